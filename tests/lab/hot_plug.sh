#!/usr/bin/env bash
# A CAN controller with unknown bit rate, removed and put back in the middle of a job.    hot_plug.sh [FOLDER]
set -euo pipefail
lab=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
source "$lab/keep.sh"
monitor=$(mktemp -u)

# tell COMMAND: to the machine's monitor
tell() {
  python3 -c 'import socket, sys, time
s = socket.socket(socket.AF_UNIX); s.connect(sys.argv[1]); time.sleep(0.3); s.recv(65536)
s.sendall(sys.argv[2].encode() + b"\n"); time.sleep(0.5); s.recv(65536)' "$monitor" "$1"
}
wait_for() { local i; for i in $(seq 1200); do [ -e "$LAB_DIR/$1" ] && return 0; [ -e /proc/$machine ] || return 1; sleep 0.1; done; return 1; }

QEMU_MONITOR=$monitor bash "$lab/qemu.sh" --timeout 280 bash "$lab/guest/serve_through_hot_plug.sh" "$lab/minute_through_window.toml" & machine=$!
if wait_for remove; then
  tell "device_del adapter0"
  if wait_for put-back; then tell "device_add kvaser_pci,canbus=b0,id=adapter0"; fi
fi
status=0
wait $machine || status=$?
[ $status -eq 77 ] && exit 77
python3 -B "$lab/judge_hot_plug.py" "$LAB_DIR"
[ $status -eq 0 ] || { echo "the program ended with $status, not with 0"; exit 1; }
