#!/usr/bin/env bash
# How long a frame takes to its journal line and to the next request, on a real SocketCAN kernel.    live_latency.sh [FOLDER]
set -euo pipefail
lab=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
source "$lab/keep.sh"
status=0
bash "$lab/uml.sh" --timeout 240 bash "$lab/guest/serve_and_stamp.sh" "$lab/minute_through_window.toml" "${LAB_SECONDS:-60}" || status=$?
[ $status -eq 77 ] && exit 77
python3 -B "$lab/judge_latency.py" "$LAB_DIR"
[ $status -eq 0 ] || { echo "the program ended with $status, not with 0"; exit 1; }
