#!/usr/bin/env bash
# The Debian package of a build folder.      tests/lab/package_in_debian.sh [--short] BUILD
#   --short   packed, judged by lintian, unpacked into a folder, and run from there
#   without   installed in an empty Debian 12 (debootstrap), used, removed, purged; only job files stay
# SUMPLOG_BLESS=1 writes the list of the package's files anew.
set -euo pipefail
short=
if [ "${1:-}" = --short ]; then short=1; shift; fi
build=$(cd "${1:?the build folder}" && pwd)
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
list=$root/tests/package/files.txt
wrong() { echo "package_in_debian: $*" >&2; exit 1; }

[ -n "$short" ] || . "$root/tests/lab/empty_debian.sh"
work=$(mktemp -d)
trap 'rm -rf "$work"; if [ -z "$short" ]; then leave_debian; fi' EXIT
(cd "$build" && cpack -B "$work/packed") >"$work/cpack.log" 2>&1 || { cat "$work/cpack.log"; exit 1; }
package=$(echo "$work"/packed/sumplog_*.deb)
[ -f "$package" ] || wrong "no package was made"

if [ -n "$short" ]; then
  dpkg-deb -x "$package" "$work/debian"
  # Documents, decoders and scenarios come and go: those are compared with the sources.
  (cd "$work/debian" && find . ! -type d -printf '%m %P\n' | grep -vE ' usr/share/(doc/sumplog/docs|sumplog)/' | LC_ALL=C sort -k 2) \
    >"$work/files.txt"
  [ -z "${SUMPLOG_BLESS:-}" ] || cp "$work/files.txt" "$list"
  unset SUMPLOG_BLESS  # the program knows no such setting
  diff -r "$root/docs" "$work/debian/usr/share/doc/sumplog/docs" || wrong "other documents than in docs/"
  diff -r "$root/decoders" "$work/debian/usr/share/sumplog/decoders" || wrong "other decoders than in decoders/"
  diff <(cd "$root/captures" && find . -name scenario.toml | sort) <(cd "$work/debian/usr/share/sumplog/captures" && find . -name scenario.toml | sort) ||
    wrong "other scenarios than in captures/"
  diff -u "$list" "$work/files.txt" || wrong "the package has other files, or other rights, than $list"
  lintian --allow-root --fail-on error,warning "$package" || wrong "lintian finds faults"
  for word in 'Package: sumplog' 'Section: utils' 'Priority: optional' 'Maintainer: sumplog developers <developers@sumplog.invalid>'; do
    dpkg-deb -f "$package" | grep -qxF "$word" || wrong "the package does not say '$word'"
  done
  for needed in adduser libc6 libsocketcan2 libsoci-sqlite3; do
    dpkg-deb -f "$package" Depends | grep -q "\b$needed" || wrong "it does not depend on $needed"
  done
  dpkg-deb -f "$package" Recommends | grep -qx 'libsoci-postgresql[0-9.]*' || wrong "it does not recommend what an index on a server needs"
  program=$work/debian/usr/bin/sumplog
  "$program" --version
  [ "$(dpkg-deb -f "$package" Version)" = "$("$program" --version | sed 's/^sumplog //')" ] || wrong "two versions"
  # The sources are out of sight: what it finds is what came with it. Root alone can hide a folder.
  hidden=()
  mkdir "$work/nothing"
  if unshare -m true 2>/dev/null; then
    hidden=(unshare -m sh -c 'mount --bind "$0" "$1" && mount --bind "$0" "$2" && shift 2 && exec "$@"' "$work/nothing" "$root/decoders" "$root/captures")
  fi
  ${hidden[@]+"${hidden[@]}"} "$program" decoders check || wrong "its decoders are not found or do not hold"
  ${hidden[@]+"${hidden[@]}"} "$program" demo --once --data "$work/jobs" >"$work/demo.out" || wrong "its demo fails"
  "$program" verify "$work"/jobs/*.log | grep -q closed || wrong "the demo's job file does not verify"
  if grep -qF "$root" "$program"; then wrong "the program holds a path of this machine: $root"; fi
  if readelf -S "$program" | grep -q '\.debug_info'; then wrong "the program is not stripped"; fi
  echo "the package is as it should be; $(du -h "$package" | cut -f 1)"
  exit 0
fi

# What belongs to package managers and logs changes by itself.
files_there() {
  (cd "$debian" && find . -xdev \( -path ./proc -o -path ./var/lib/dpkg -o -path ./var/lib/apt -o -path ./var/cache -o -path ./var/log \
    -o -path ./run -o -path ./tmp -o -name 'passwd-' -o -name 'group-' -o -name '*shadow-' \) -prune -o -print | LC_ALL=C sort)
}
accounts() { grep -c '^sumplog:' "$debian/etc/passwd" || true; }
apt_get() { inside env DEBIAN_FRONTEND=noninteractive apt-get -y --no-install-recommends "$@" >"$work/apt.log" 2>&1 || { tail -n 30 "$work/apt.log"; wrong "apt-get $*"; }; }

cp "$package" "$debian/opt/sumplog.deb"
apt_get update
# Everything that it depends on first: what is there afterwards and not before is the package's own.
apt_get install adduser man-db $(dpkg-deb -f "$package" Depends | sed 's/([^)]*)//g; s/,/ /g')
files_there >"$work/before"

apt_get install /opt/sumplog.deb
[ "$(accounts)" = 1 ] || wrong "no user sumplog"
grep -q '^sumplog:.*:/var/lib/sumplog:/usr/sbin/nologin$' "$debian/etc/passwd" || wrong "the user can log in: $(grep ^sumplog: "$debian/etc/passwd")"
inside sumplog demo --once >"$work/demo.out" || wrong "the demo fails"
grep -q 'job file: ' "$work/demo.out" || wrong "the demo wrote no job file"
rm -rf "$debian/root/.local"
inside sh -c 'man -P cat sumplog-serve' | grep -q -- --first-steps || wrong "no manual page"
inside bash -c '. /usr/share/bash-completion/completions/sumplog; COMP_WORDS=(sumplog serve --decoder d); COMP_CWORD=3; _sumplog; echo "${COMPREPLY[@]}"' |
  grep -q '^demo-9' || wrong "nothing is completed"
[ -f "$debian/usr/lib/systemd/system/sumplog@.service" ] || wrong "no unit"
# What it only recommends is not here.
inside sumplog jobs find --index postgresql://nobody@127.0.0.1:1/nothing >"$work/index.out" 2>&1 && wrong "an index on no server is searched"
grep -q 'install libsoci-postgresql' "$work/index.out" || wrong "it does not say what an index on a server needs: $(cat "$work/index.out")"
# As the service does it: this user, this folder.
mkdir "$debian/var/lib/sumplog"
inside chown sumplog:sumplog /var/lib/sumplog
inside setpriv --reuid sumplog --regid sumplog --clear-groups --no-new-privs sumplog demo --once --data /var/lib/sumplog >"$work/demo.out" ||
  wrong "the demo fails for the user sumplog"
echo 'bay = "bay 2"' >>"$debian/etc/sumplog/service.toml"
echo 'SUMPLOG_LISTEN=127.0.0.1:8724' >"$debian/etc/sumplog/can1.conf"

apt_get install --reinstall -o Dpkg::Options::=--force-confold /opt/sumplog.deb
grep -q 'bay 2' "$debian/etc/sumplog/service.toml" || wrong "an administrator's settings were written over"
apt_get remove sumplog
[ ! -e "$debian/usr/bin/sumplog" ] || wrong "the program stays after removal"
[ -f "$debian/etc/sumplog/service.toml" ] || wrong "removal took the settings, which only a purge may"
apt_get purge sumplog
grep -q 'job files in /var/lib/sumplog stay' "$work/apt.log" || wrong "a purge does not say that job files stay"
files_there | LC_ALL=C comm -13 "$work/before" - >"$work/left"
if grep -v '^\./var/lib/sumplog' "$work/left"; then wrong "these files stay after a purge"; fi
grep -q '^\./var/lib/sumplog/.*\.log$' "$work/left" || wrong "a purge took the job files"
[ "$(accounts)" = 1 ] || wrong "the owner of the job files is gone"

# Without job files nothing stays, the user neither.
apt_get install /opt/sumplog.deb
rm -rf "$debian/var/lib/sumplog"
apt_get purge sumplog
files_there | LC_ALL=C comm -13 "$work/before" - >"$work/left"
if grep . "$work/left"; then wrong "these files stay after a purge"; fi
[ "$(accounts)" = 0 ] || wrong "the user stays after a purge without job files"
echo "--- empty Debian 12: installed, used, removed and purged; only job files stayed"
