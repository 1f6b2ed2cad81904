#!/usr/bin/env bash
# The package's unit under a real systemd: installed in an empty Debian 12 (debootstrap), booted there under user-mode Linux with vcan0 and a simulated vehicle.
#   tests/lab/service_under_systemd.sh BUILD
# Needs root, debootstrap, a mirror (empty_debian.sh) and user-mode-linux; a few minutes.
set -euo pipefail
build=$(cd "${1:?the build folder}" && pwd)
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
: "${SUMPLOG:=$build/sumplog}"
scenario=$root/tests/lab/minute_through_window.toml
limit=900  # s; half of it is patience for a busy machine
wrong() { echo "service_under_systemd: $*" >&2; exit 1; }
command -v linux.uml >/dev/null || { echo "service_under_systemd: linux.uml is missing (Debian package user-mode-linux)"; exit 77; }

. "$root/tests/lab/empty_debian.sh"
work=$(mktemp -d)
trap 'rm -rf "$work"; leave_debian' EXIT
(cd "$build" && cpack -B "$work/packed") >"$work/log" 2>&1 || { cat "$work/log"; exit 1; }
cp "$work"/packed/sumplog_*.deb "$debian/opt/sumplog.deb"
for words in update 'install systemd-sysv /opt/sumplog.deb'; do
  # shellcheck disable=SC2086
  inside env DEBIAN_FRONTEND=noninteractive apt-get -y --no-install-recommends $words >"$work/log" 2>&1 || { tail -n 30 "$work/log"; wrong "apt-get $words"; }
done

# The guest's root is that folder; this machine's files are below /host, where the vehicle and the judge run. What the guest writes there
# belongs to root, whoever wrote it: job files and the system's journal go into its memory.
mkdir -p "$debian/host" "$debian/var/lib/sumplog" "$debian/etc/systemd/journald.conf.d"
printf '[Journal]\nStorage=volatile\n' >"$debian/etc/systemd/journald.conf.d/memory.conf"
cat >"$debian/etc/systemd/system/lab.service" <<'UNIT'
[Unit]
After=basic.target
[Service]
Type=oneshot
ExecStart=/bin/bash /opt/lab.sh
StandardOutput=file:/opt/said
StandardError=file:/opt/said
UNIT
mkdir -p "$debian/etc/systemd/system/multi-user.target.wants"
ln -s ../lab.service "$debian/etc/systemd/system/multi-user.target.wants/lab.service"
vin=$(sed -n 's/^vin *= *"\(.*\)".*/\1/p' "$scenario")
{
  declare -p debian root SUMPLOG scenario vin
  cat <<'LAB'
mount -t hostfs none /host -o /
modules=/usr/lib/uml/modules/$(uname -r)/kernel
for module in net/can/can net/can/can-raw drivers/net/can/dev/can-dev drivers/net/can/vcan; do chroot /host insmod "$modules/$module.ko" || echo "no module $module"; done
chroot /host ip link set lo up
chroot /host ip link add vcan0 type vcan
chroot /host ip link set vcan0 up
mount -t tmpfs jobs /var/lib/sumplog
mount --bind /var/lib/sumplog "/host$debian/var/lib/sumplog"
for one in proc sys dev run; do
  mount --bind "/$one" "/host/$one"
  mount --bind "/$one" "/host$debian/$one"
done
chroot /host "$SUMPLOG" simulate --interface vcan0 --scenario "$scenario" >/dev/null 2>&1 &
DEBIAN=$debian SUMPLOG=$SUMPLOG chroot /host python3 -B "$root/tests/lab/guest/judge_service.py" 8723 "$vin"
echo "judged: $?"
sync
systemctl poweroff
LAB
} >"$debian/opt/lab.sh"

umount "$debian/dev/shm" "$debian/dev/pts" "$debian/proc"  # the guest has its own
ended=0
timeout --kill-after=5 $limit linux.uml mem=512M uml_dir="$work" umid=lab root=/dev/root rootfstype=hostfs rootflags="$debian" rw \
  init=/lib/systemd/systemd con=null con0=null,fd:1 quiet </dev/null >"$work/console" 2>&1 || ended=$?
cat "$debian/opt/said" 2>/dev/null || true
if grep -qx 'judged: 0' "$debian/opt/said" 2>/dev/null; then exit 0; fi
tail -n 20 "$work/console"
wrong "the guest ended with $ended; what it said is above"
