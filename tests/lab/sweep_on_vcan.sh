#!/usr/bin/env bash
# A sweep of identifiers on a real CAN socket: left in its first pass, gone on with, and ended by a fault code that appears.
#   sweep_on_vcan.sh [FOLDER]     FOLDER keeps what was recorded
set -euo pipefail
lab=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
source "$lab/keep.sh"

status=0
bash "$lab/uml.sh" --timeout 300 bash "$lab/guest/sweep_left_and_gone_on.sh" "$lab/gearbox_to_sweep.toml" || status=$?
[ $status -eq 77 ] && exit 77
python3 -B "$lab/judge_sweep.py" "$LAB_DIR"
[ $status -eq 0 ] || { echo "the lab ended with $status, not with 0"; exit 1; }
