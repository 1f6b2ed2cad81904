#!/usr/bin/env bash
# Builds sumplog and runs the main job on the simulated vehicle, on a machine that has only Debian 12, root and this repository.
#   bash src/demo.sh [--once] [options of `sumplog demo`]       --once ends by itself
# Works from any folder; no CAN interface and no vehicle are needed.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
build=$root/build/demo

bash "$root/src/setup.sh" build >&2
mkdir -p "$build"
log=$build/demo-build.log
echo "building sumplog in build/demo (a few minutes the first time)" >&2
if ! { cmake -S "$root" --preset release -B "$build" -DSUMPLOG_TESTS=OFF && cmake --build "$build" --parallel "$(nproc)"; } \
  >"$log" 2>&1; then
  tail -n 60 "$log" >&2
  echo "demo.sh: the build failed; all of its output is in $log" >&2
  exit 1
fi
exec "$build/sumplog" demo "$@"
