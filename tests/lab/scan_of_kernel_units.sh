#!/usr/bin/env bash
# A scan of units that the kernel's own ISO-TP speaks for: an implementation that nobody here wrote.
#   scan_of_kernel_units.sh [FOLDER]     FOLDER keeps what was recorded
set -euo pipefail
lab=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
source "$lab/keep.sh"

status=0
bash "$lab/qemu.sh" --timeout 400 bash "$lab/guest/scan_of_kernel_units.sh" "$lab" || status=$?
[ $status -eq 77 ] && exit 77
python3 -B "$lab/judge_scan_of_kernel_units.py" "$LAB_DIR"
[ $status -eq 0 ] || { echo "the lab ended with $status, not with 0"; exit 1; }
