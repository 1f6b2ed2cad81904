#!/usr/bin/env bash
# Runs in the lab: a sweep that somebody ends with Ctrl-C in its first pass, and that goes on with the same job file.
# Leaves in LAB_DIR: first.err and second.err (what a person saw), job/, heard.log, ended (two exit statuses).
set -euo pipefail
scenario=$1

cd "$LAB_DIR"
mkdir job
candump -d -r 4194304 -L vcan0 >heard.log 2>candump.err & listener=$!
"$SUMPLOG" simulate --interface vcan0 --scenario "$scenario" >simulate.out 2>simulate.err & vehicle=$!
sleep 1

# sweep NAME OPTION...
sweep() {
  local name=$1
  shift
  "$SUMPLOG" learn --interface vcan0 --ask 7E1:1A00-1A7F --agreed-by 'L. Lab' --listen off "$@" >"$name.out" 2>"$name.err" &
  program=$!
}
sweep first --data job --for 120
deadline=$((SECONDS + 40))
until [ "$(grep -c ' 7E1#03221A' heard.log || true)" -ge 50 ] || [ $SECONDS -ge $deadline ]; do sleep 0.2; done
kill -INT $program
status=0
wait $program || status=$?
echo "first $status" >ended
grep -c ' 7E1#03221A' heard.log >asked_first || true

job=$(find job -type f -exec grep -l '^# sumplog-job 1' {} +)
status=0
sweep second --job "$job" --for 100
wait $program || status=$?
echo "second $status" >>ended
kill -TERM $vehicle $listener 2>/dev/null || true
wait 2>/dev/null || true
