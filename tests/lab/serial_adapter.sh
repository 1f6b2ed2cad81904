#!/usr/bin/env bash
# A serial adapter through the kernel's slcan driver, its bit rate unknown, in trouble, unplugged and plugged in again.
#   serial_adapter.sh [FOLDER]      FOLDER keeps what was recorded
# The driver has no automatic restart (restart-ms): recovery by taking the link down and up is what is shown here.
set -euo pipefail
lab=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
source "$lab/keep.sh"

status=0
bash "$lab/uml.sh" --timeout 280 bash "$lab/guest/serve_on_serial_adapter.sh" "$lab/minute_through_window.toml" || status=$?
[ $status -eq 77 ] && exit 77
python3 -B "$lab/judge_serial.py" "$LAB_DIR"
[ $status -eq 0 ] || { echo "the program ended with $status, not with 0"; exit 1; }
