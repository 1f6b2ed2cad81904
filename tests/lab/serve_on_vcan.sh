#!/usr/bin/env bash
# The main job on a real SocketCAN kernel: vehicle, program and listener as three processes, judged from the outside.
#   serve_on_vcan.sh [FOLDER]      FOLDER keeps what was recorded
set -euo pipefail
lab=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
scenario=$lab/minute_through_window.toml
source "$lab/keep.sh"

status=0
bash "$lab/uml.sh" --timeout 330 bash "$lab/guest/serve_until_window_left.sh" "$scenario" || status=$?
[ $status -eq 77 ] && exit 77
vin=$(sed -n 's/^vin *= *"\(.*\)".*/\1/p' "$scenario")
python3 -B "$lab/judge_serve.py" "$LAB_DIR" "$vin"
[ $status -eq 0 ] || { echo "the program ended with $status, not with 0"; exit 1; }
