#!/usr/bin/env bash
# The lab itself works: a frame sent on vcan0 is heard there, files reach the host, and an exit status comes back.
set -euo pipefail
lab=$(dirname "${BASH_SOURCE[0]}")
LAB_DIR=$(mktemp -d)
export LAB_DIR
trap 'rm -rf "$LAB_DIR"' EXIT

status=0
bash "$lab/uml.sh" --timeout 60 bash -c '
  candump -n 2 -L vcan0 >"$LAB_DIR/heard.log" & listener=$!
  for try in $(seq 50); do grep -q . /proc/net/can/rcvlist_all && grep -q vcan0 /proc/net/can/rcvlist_all && break; sleep 0.1; done
  cansend vcan0 7DF#02010C5555555555
  cansend vcan0 18DAF110#03410B65AAAAAAAA
  wait "$listener" && exit 9' || status=$?
[ "$status" -eq 77 ] && exit 77
if [ "$status" -ne 9 ]; then echo "the lab ended with $status, its command with 9"; exit 1; fi

heard=$(sed 's/^([0-9.]*) //' "$LAB_DIR/heard.log")
wanted='vcan0 7DF#02010C5555555555
vcan0 18DAF110#03410B65AAAAAAAA'
if [ "$heard" != "$wanted" ]; then
  printf 'heard on vcan0:\n%s\n' "$heard"
  exit 1
fi
