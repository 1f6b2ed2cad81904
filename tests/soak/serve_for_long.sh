#!/usr/bin/env bash
# An hour of wall time on a real kernel: memory and descriptors of `serve`, sampled while pages come and go.
#   serve_for_long.sh [SECONDS [FOLDER]]      FOLDER keeps what was recorded
# Sockets, timers and the disk are the real ones; what a page holds open is let go of when it leaves.
set -euo pipefail
soak=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
lab=$soak/../lab
seconds=${1:-3600}
shift $(($# > 0 ? 1 : 0))
source "$lab/keep.sh"
sed -e "s/^lasts_s.*/lasts_s = $((seconds + 600))/" -e 's/^fluid_heat_park_w.*/fluid_heat_park_w = 300/' \
  "$lab/minute_through_window.toml" >"$LAB_DIR/scenario.toml"
status=0
bash "$lab/uml.sh" --timeout $((seconds + 400)) python3 -B "$soak/guest_serve.py" "$seconds" || status=$?
exit $status
