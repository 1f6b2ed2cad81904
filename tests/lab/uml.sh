#!/usr/bin/env bash
# Runs COMMAND under a real Linux kernel with CAN, as one process, in seconds: user-mode Linux with the host's files as its root.
#   tests/lab/uml.sh [--timeout SECONDS] COMMAND...
# In there COMMAND is root, vcan0 is up, /run is empty, and the environment and working folder are the caller's.
# LAB_DIR names a scratch folder that both sides see; the caller may set it, otherwise it vanishes at the end.
# Exit status: COMMAND's own; 124 when the time is up; 125 when the lab itself failed; 77 when it is not installed.
# Standard output and error are COMMAND's, printed when it has ended.
set -euo pipefail

limit=300  # s; a lab that hangs must not hold up everything else
if [ "${1:-}" = --timeout ]; then limit=$2; shift 2; fi
[ $# -gt 0 ] || { sed -n '3s/^# *//p' "${BASH_SOURCE[0]}" >&2; exit 2; }
if ! command -v linux.uml >/dev/null; then
  echo "lab: linux.uml is missing: bash src/setup.sh test installs it (Debian package user-mode-linux)" >&2
  exit 77
fi

dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
if [ -z "${LAB_DIR:-}" ]; then
  mkdir "$dir/scratch"
  LAB_DIR=$dir/scratch
fi
export LAB_DIR

export -p >"$dir/environment"
printf '%q ' "$@" >"$dir/command"
pwd >"$dir/folder"
: >"$dir/stdout"
: >"$dir/stderr"
# The init of the guest. `sh` on purpose: a busybox shell as init crashes this kernel.
cat >"$dir/init" <<'INIT'
#!/bin/sh
dir=$(dirname "$0")
export PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin
finish() { echo "$1" >"$dir/status"; sync; echo o >/proc/sysrq-trigger; sleep 10; }
refuse() { echo "lab: $*" >>"$dir/stderr"; finish 125; }
mount -t proc proc /proc
mount -t sysfs sys /sys
mount -t devtmpfs dev /dev 2>/dev/null
mkdir -p /dev/pts /dev/shm
mount -t devpts pts /dev/pts
mount -t tmpfs shm /dev/shm
mount -t tmpfs run /run
modules=/usr/lib/uml/modules/$(uname -r)/kernel
for module in net/can/can net/can/can-raw net/can/can-bcm net/can/j1939/can-j1939 \
  drivers/net/can/dev/can-dev drivers/net/can/vcan drivers/net/can/slcan/slcan; do
  [ -f "$modules/$module.ko" ] || refuse "kernel module $modules/$module.ko is missing"
  insmod "$modules/$module.ko" || refuse "kernel module $module does not load"
done
ip link set lo up || refuse "no loopback interface"
{ ip link add vcan0 type vcan && ip link set vcan0 up; } || refuse "vcan0 does not come up"
bash -c 'source "$1/environment"; cd "$(cat "$1/folder")" && source "$1/command"' lab "$dir" \
  </dev/null >"$dir/stdout" 2>"$dir/stderr"
finish $?
INIT
chmod +x "$dir/init"

ended=0
timeout --kill-after=5 "$limit" linux.uml mem="${LAB_MEMORY:-384M}" uml_dir="$dir" umid=lab \
  root=/dev/root rootfstype=hostfs rootflags=/ rw init="$dir/init" con=null con0=null,fd:1 quiet \
  </dev/null >"$dir/console" 2>&1 || ended=$?
cat "$dir/stdout"
cat "$dir/stderr" >&2
if [ "$ended" -eq 124 ] || [ "$ended" -eq 137 ]; then
  echo "lab: ended after $limit s, COMMAND had not finished" >&2
  exit 124
fi
if [ ! -s "$dir/status" ]; then
  tail -n 20 "$dir/console" >&2
  echo "lab: the kernel stopped (status $ended) before COMMAND ended; its last words are above" >&2
  exit 125
fi
exit "$(cat "$dir/status")"
