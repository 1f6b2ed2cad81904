#!/usr/bin/env bash
# Runs COMMAND under a stock Debian kernel in QEMU, with two emulated CAN controllers (can0 and can1, at 500 kbit/s) on one bus
# and the kernel's own ISO-TP sockets. No KVM is needed; it boots in about ten seconds.
#   tests/lab/qemu.sh [--timeout SECONDS] COMMAND...
# In there COMMAND is root, vcan0 is up as well, the environment and working folder are the caller's, and the host's files are
# there to read; what is written vanishes, except below LAB_DIR, a scratch folder that both sides see.
# The controllers do not model bit timing, missing acknowledge or bus-off: nothing may be shown with them that needs those.
# QEMU_MONITOR names a socket for QEMU's monitor (device_del, device_add). KERNEL_DIR keeps the kernel that is fetched once.
# Exit status: COMMAND's own; 124 when the time is up; 125 when the lab itself failed; 77 when it is not installed.
set -euo pipefail

limit=300  # s
if [ "${1:-}" = --timeout ]; then limit=$2; shift 2; fi
[ $# -gt 0 ] || { sed -n '4s/^# *//p' "${BASH_SOURCE[0]}" >&2; exit 2; }
for need in qemu-system-x86_64 busybox cpio; do
  command -v $need >/dev/null && continue
  echo "lab: $need is missing: bash src/setup.sh test installs it" >&2
  exit 77
done

cache=${KERNEL_DIR:-${XDG_CACHE_HOME:-$HOME/.cache}/sumplog-lab-kernel}
mkdir -p "$cache"
if ! ls "$cache"/boot/vmlinuz-* >/dev/null 2>&1; then
  # Fetched and unpacked, never installed. Its folder gets its name only when it is whole.
  image=$(apt-cache depends linux-image-amd64 | sed -n 's/.*Depends: \(linux-image-[^ ]*\).*/\1/p' | head -n 1)
  new=$(mktemp -d "$cache/new.XXXXXX")
  if [ -z "$image" ] || ! (cd "$new" && apt-get download "$image" >/dev/null 2>&1 && dpkg -x ./*.deb .); then
    rm -rf "$new"
    echo "lab: the Debian package of a kernel (linux-image-amd64) cannot be fetched" >&2
    exit 77
  fi
  cp -r "$new/lib" "$cache/"
  cp -r "$new/boot" "$cache/"
  rm -rf "$new"
fi
kernel=$(ls "$cache"/boot/vmlinuz-* | head -n 1)
modules=$cache/lib/modules/${kernel##*/vmlinuz-}/kernel

dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
if [ -z "${LAB_DIR:-}" ]; then
  mkdir "$dir/scratch"
  LAB_DIR=$dir/scratch
fi
export LAB_DIR

mkdir -p "$dir/root"/{bin,mods,proc,sys,dev,new,low,up}
cp "$(command -v busybox)" "$dir/root/bin/busybox"
order=
for module in net/core/failover drivers/net/net_failover drivers/virtio/virtio drivers/virtio/virtio_ring \
  drivers/virtio/virtio_pci_modern_dev drivers/virtio/virtio_pci_legacy_dev drivers/virtio/virtio_pci fs/netfs/netfs \
  fs/fscache/fscache net/9p/9pnet net/9p/9pnet_virtio fs/9p/9p fs/overlayfs/overlay net/can/can net/can/can-raw \
  net/can/can-isotp net/can/can-gw net/can/j1939/can-j1939 drivers/net/can/dev/can-dev drivers/net/can/vcan \
  drivers/net/can/sja1000/sja1000 drivers/net/can/sja1000/kvaser_pci; do
  name=${module##*/}
  if [ -f "$modules/$module.ko" ]; then cp "$modules/$module.ko" "$dir/root/mods/"
  elif [ -f "$modules/$module.ko.xz" ]; then xz -dc "$modules/$module.ko.xz" >"$dir/root/mods/$name.ko"
  else continue; fi  # built into this kernel
  order="$order $name"
done
export -p >"$dir/root/environment"
printf '%q ' "$@" >"$dir/root/command"
pwd >"$dir/root/folder"
echo "$order" >"$dir/root/order"
echo "$LAB_DIR" >"$dir/root/scratch_folder"
cat >"$dir/root/init" <<'INIT'
#!/bin/busybox sh
/bin/busybox --install -s /bin
export PATH=/bin
mount -t proc proc /proc
mount -t sysfs sys /sys
mount -t devtmpfs dev /dev
for pass in 1 2 3; do for m in $(cat /order); do insmod /mods/$m.ko 2>/dev/null; done; done  # they settle their order
mount -t 9p -o ro,trans=virtio,version=9p2000.L,msize=262144,cache=loose host /low || poweroff -f
mount -t tmpfs tmp /up
mkdir /up/u /up/w
mount -t overlay -o lowerdir=/low,upperdir=/up/u,workdir=/up/w over /new || mount --bind /low /new
for d in proc sys dev; do mount --bind /$d /new/$d; done
mkdir -p /new/dev/pts /new/dev/shm
mount -t devpts pts /new/dev/pts
mount -t tmpfs shm /new/dev/shm
mount -t tmpfs run /new/run
mkdir -p "/new$(cat /scratch_folder)"
mount -t 9p -o trans=virtio,version=9p2000.L,msize=262144 scratch "/new$(cat /scratch_folder)" || poweroff -f
cp /command /environment /folder /new/run/
chroot /new /bin/bash -c 'export PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin
  ip link set lo up; ip link add vcan0 type vcan && ip link set vcan0 up
  for c in can0 can1; do ip link set $c type can bitrate 500000 && ip link set $c up; done
  source /run/environment; cd "$(cat /run/folder)" && source /run/command' </dev/null
status=$?
echo  # what was printed last may have left its line open
echo "lab-exit-status $status"
sync
poweroff -f
INIT
chmod +x "$dir/root/init"
(cd "$dir/root" && find . | cpio -o -H newc 2>/dev/null | gzip -1) >"$dir/initramfs"

ended=0
timeout --kill-after=5 "$limit" qemu-system-x86_64 -m "${LAB_MEMORY:-768}" -nographic -no-reboot -nodefaults -serial stdio \
  -kernel "$kernel" -initrd "$dir/initramfs" -append 'console=ttyS0 quiet panic=-1' \
  -object can-bus,id=b0 -device kvaser_pci,canbus=b0,id=adapter0 -device kvaser_pci,canbus=b0,id=adapter1 \
  -fsdev local,id=host,path=/,security_model=none,readonly=on,multidevs=remap \
  -device virtio-9p-pci,fsdev=host,mount_tag=host \
  -fsdev local,id=scratch,path="$LAB_DIR",security_model=none -device virtio-9p-pci,fsdev=scratch,mount_tag=scratch \
  ${QEMU_MONITOR:+-monitor unix:$QEMU_MONITOR,server,nowait} </dev/null >"$dir/console" 2>&1 || ended=$?
# The console without the firmware's and the kernel's own words.
tr -d '\r' <"$dir/console" | sed -e 's/\x1b\[[0-9;?]*[A-Za-z]//g; s/\x1bc//g; s/^Booting from ROM\.\.//' |
  grep -vE '^lab-exit-status |SeaBIOS|reboot: Power down|^\.?$' || true
if [ "$ended" -eq 124 ] || [ "$ended" -eq 137 ]; then
  echo "lab: ended after $limit s, COMMAND had not finished" >&2
  exit 124
fi
status=$(tr -d '\r' <"$dir/console" | sed -n 's/^lab-exit-status \([0-9]*\)$/\1/p' | tail -n 1)
[ -n "$status" ] || { echo "lab: the machine stopped (status $ended) before COMMAND ended" >&2; exit 125; }
exit "$status"
