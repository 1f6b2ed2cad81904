#!/usr/bin/env bash
# Live equals replayed, also when the program was killed in between: kill -9, a torn last line, resume.
#   resume_on_vcan.sh [FOLDER]     FOLDER keeps what was recorded
set -euo pipefail
lab=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
source "$lab/keep.sh"

status=0
bash "$lab/uml.sh" --timeout 240 bash "$lab/guest/serve_killed_and_resumed.sh" "$lab/minute_through_window.toml" || status=$?
[ $status -eq 77 ] && exit 77
python3 -B "$lab/judge_resume.py" "$LAB_DIR"
[ $status -eq 0 ] || { echo "the program ended with $status, not with 0"; exit 1; }
