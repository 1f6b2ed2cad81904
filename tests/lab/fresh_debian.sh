#!/usr/bin/env bash
# The two README commands on a machine that has only Debian 12, root and the repository: an empty folder made by debootstrap.
#   tests/lab/fresh_debian.sh [demo|tests|both]        default: both; needs root, the package debootstrap and a Debian mirror
# Tests what is committed: the repository is cloned into the folder. DEBIAN_MIRROR names the mirror; otherwise the first one
# of this machine's own package sources is taken.
set -euo pipefail
what=${1:-both}
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
[ "$(id -u)" -eq 0 ] || { echo "fresh_debian: only root can make and enter the folder"; exit 77; }
command -v debootstrap >/dev/null || { echo "fresh_debian: debootstrap is not installed"; exit 77; }
mirror=${DEBIAN_MIRROR:-$({ cat /etc/apt/sources.list /etc/apt/sources.list.d/*.{sources,list} 2>/dev/null || true; } |
  sed -nE 's/^(URIs:|deb) *(\[[^]]*\] *)?((http|https|file):[^ ]*).*/\3/p' | head -n 1)}
[ -n "$mirror" ] || { echo "fresh_debian: no mirror found; name one in DEBIAN_MIRROR"; exit 77; }

debian=$(mktemp -d)
chmod 755 "$debian"  # its own package client drops root and must still find its files
leave() {
  umount "$debian/dev/shm" "$debian/dev/pts" "$debian/proc" 2>/dev/null || true
  # Never delete through a mount that stayed.
  if ! grep -q " $debian/" /proc/mounts; then rm -rf --one-file-system "$debian"; fi
}
trap leave EXIT

debootstrap --variant=minbase bookworm "$debian" "$mirror" >"$debian.log" 2>&1 || { tail -n 20 "$debian.log"; exit 1; }
rm -f "$debian.log"
mount -t proc proc "$debian/proc"
mkdir -p "$debian/dev/pts" "$debian/dev/shm"
mount -t devpts pts "$debian/dev/pts"
mount -t tmpfs shm "$debian/dev/shm"
git -c safe.directory='*' clone --quiet --no-hardlinks "$root" "$debian/root/sumplog"

# inside COMMAND...: as root would type it, with nothing of this machine's environment but a proxy for packages
inside() {
  local proxy=() name
  for name in http_proxy https_proxy no_proxy; do [ -z "${!name:-}" ] || proxy+=("$name=${!name}"); done
  echo "--- $*"
  chroot "$debian" env -i HOME=/root PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin TERM=dumb \
    ${proxy[@]+"${proxy[@]}"} sh -c 'cd "$HOME/sumplog" && exec "$@"' sh "$@" </dev/null
}
case $what in
  demo) inside bash src/demo.sh --once ;;
  tests) inside bash tests/run.sh ;;
  both)
    inside bash src/demo.sh --once
    inside bash tests/run.sh
    ;;
  *) echo "fresh_debian: '$what' is neither demo, tests nor both" >&2; exit 2 ;;
esac
echo "--- fresh Debian 12: $what ended well"
