#!/usr/bin/env bash
# What `serve` costs on a quiet and on a full bus, beside candump.    full_bus.sh [FOLDER]
set -euo pipefail
lab=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
source "$lab/keep.sh"
status=0
bash "$lab/qemu.sh" --timeout 300 bash "$lab/guest/full_bus.sh" "$lab/minute_through_window.toml" || status=$?
[ $status -eq 77 ] && exit 77
python3 -B "$lab/judge_full_bus.py" "$LAB_DIR"
[ $status -eq 0 ] || { echo "the program ended with $status, not with 0"; exit 1; }
