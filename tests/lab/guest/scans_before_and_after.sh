#!/usr/bin/env bash
# Runs in the lab: a scan before the work and one after it, each on its own vehicle.
# Leaves in LAB_DIR: before.txt and after.txt (what a person saw), after.jsonl, job/, heard.log, ended (two exit statuses).
set -euo pipefail
scenarios=$1

cd "$LAB_DIR"
mkdir job
candump -d -r 4194304 -L vcan0 >heard.log 2>candump.err & listener=$!

# scan STAGE OPTION...: on the vehicle of that stage
scan() {
  local stage=$1 ended=0
  shift
  "$SUMPLOG" simulate --interface vcan0 --scenario "$scenarios/$stage.toml" >simulate.out 2>simulate.err & vehicle=$!
  sleep 1
  "$SUMPLOG" scan --interface vcan0 --stage "$stage" "$@" >"$stage.txt" 2>"$stage.err" || ended=$?
  echo "$stage $ended" >>ended
  kill -TERM $vehicle
  wait $vehicle 2>/dev/null || true
}
scan before --decoder "$scenarios/named-units" --data job
job=$(find job -type f -exec grep -l '^# sumplog-job 1' {} +)
scan after --job "$job"
"$SUMPLOG" scan --json "$job" >after.jsonl 2>replayed.err || true
kill -TERM $listener 2>/dev/null || true
wait 2>/dev/null || true
