#!/usr/bin/env bash
# Runs one browser test:   run.sh BUILD_FOLDER TEST.mjs
# Its packages are installed in the build folder once, as package-lock.json says; the browser is the system's.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
build=$1/browser
for program in node npm chromium; do
  command -v $program >/dev/null || { echo "skipped: $program is not installed" >&2; exit 77; }
done
mkdir -p "$build"
exec 9>"$build/lock"
flock 9
if ! cmp -s "$here/package-lock.json" "$build/installed.json"; then
  cp "$here/package.json" "$here/package-lock.json" "$here/.npmrc" "$build/"
  (cd "$build" && npm ci)
  cp "$here/package-lock.json" "$build/installed.json"
fi
flock -u 9
CHROMIUM=$(command -v chromium) BROWSER_MODULES=$build SHOTS=$build/shots exec node "$here/$2"
