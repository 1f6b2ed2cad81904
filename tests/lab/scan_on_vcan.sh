#!/usr/bin/env bash
# Fault codes before and after the work, on a real CAN socket: two scans into one job file, with the vehicle of each.
#   scan_on_vcan.sh [FOLDER]     FOLDER keeps what was recorded
set -euo pipefail
lab=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
source "$lab/keep.sh"

status=0
bash "$lab/uml.sh" --timeout 240 bash "$lab/guest/scans_before_and_after.sh" "$lab/../scan" || status=$?
[ $status -eq 77 ] && exit 77
python3 -B "$lab/judge_scan.py" "$LAB_DIR"
[ $status -eq 0 ] || { echo "the lab ended with $status, not with 0"; exit 1; }
