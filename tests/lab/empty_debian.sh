# Sourced: makes an empty Debian 12 folder with debootstrap, which vanishes when the script ends. Its path is in $debian.
#   inside COMMAND...   runs a command there as root, with nothing of this machine's environment but a proxy for packages, and
#                       whom it is to trust for npm (NODE_EXTRA_CA_CERTS) where a proxy speaks for the registry
# Needs root, debootstrap and a mirror: DEBIAN_MIRROR names it; otherwise the first one of this machine's own package sources is taken.
name=$(basename "$0" .sh)
[ "$(id -u)" -eq 0 ] || { echo "$name: only root can make and enter the folder"; exit 77; }
command -v debootstrap >/dev/null || { echo "$name: debootstrap is not installed"; exit 77; }
mirror=${DEBIAN_MIRROR:-$({ cat /etc/apt/sources.list /etc/apt/sources.list.d/*.{sources,list} 2>/dev/null || true; } |
  sed -nE 's/^(URIs:|deb) *(\[[^]]*\] *)?((http|https|file):[^ ]*).*/\3/p' | head -n 1)}
[ -n "$mirror" ] || { echo "$name: no mirror found; name one in DEBIAN_MIRROR"; exit 77; }

debian=$(mktemp -d)
chmod 755 "$debian"  # its own package client drops root and must still find its files
leave_debian() {
  umount "$debian/dev/shm" "$debian/dev/pts" "$debian/proc" 2>/dev/null || true
  # Never delete through a mount that stayed.
  if ! grep -q " $debian/" /proc/mounts; then rm -rf --one-file-system "$debian"; fi
}
trap leave_debian EXIT

debootstrap --variant=minbase bookworm "$debian" "$mirror" >"$debian.log" 2>&1 || { tail -n 20 "$debian.log"; exit 1; }
rm -f "$debian.log"
mount -t proc proc "$debian/proc"
mkdir -p "$debian/dev/pts" "$debian/dev/shm"
[ -z "${NODE_EXTRA_CA_CERTS:-}" ] || cp "$NODE_EXTRA_CA_CERTS" "$debian/opt/trusted.pem"
mount -t devpts pts "$debian/dev/pts"
mount -t tmpfs shm "$debian/dev/shm"

inside() {
  local proxy=() one
  for one in http_proxy https_proxy no_proxy; do [ -z "${!one:-}" ] || proxy+=("$one=${!one}"); done
  [ ! -f "$debian/opt/trusted.pem" ] || proxy+=(NODE_EXTRA_CA_CERTS=/opt/trusted.pem)
  echo "--- $*"
  chroot "$debian" env -i HOME=/root PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin TERM=dumb LC_ALL=C.UTF-8 \
    ${proxy[@]+"${proxy[@]}"} "$@" </dev/null
}
