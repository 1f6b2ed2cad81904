#!/usr/bin/env bash
# Runs in the lab: `serve` is killed in the middle of its work, then resumes the same job file.
# Leaves in LAB_DIR: first.jsonl and second.jsonl (the two journals), job/, heard.log.
set -euo pipefail
scenario=$1

cd "$LAB_DIR"
mkdir job
candump -d -r 4194304 -L vcan0 >heard.log 2>candump.err & listener=$!
"$SUMPLOG" simulate --interface vcan0 --scenario "$scenario" >simulate.out 2>simulate.err & vehicle=$!

# readings FILE NUMBER: waits until the journal holds so many fluid temperatures
readings() {
  local deadline=$((SECONDS + 60))
  while [ $SECONDS -lt $deadline ]; do
    [ "$(grep -c '"signal":"fluid_temperature"' "$1" || true)" -ge "$2" ] && return 0
    sleep 0.2
  done
  echo "no $2 fluid temperatures in $1 after 60 s"
  return 1
}
"$SUMPLOG" serve --interface vcan0 --decoder demo-9 --data job --json >first.jsonl 2>first.err & program=$!
readings first.jsonl 20
kill -KILL $program
{ wait $program; } 2>/dev/null || true

job=$(find job -type f -exec grep -l '^# sumplog-job 1' {} +)
# What a power cut may leave: the last line is torn. Its frame is lost, and the job says so.
cp "$job" killed.log
printf '(1700000000.0000' >>"$job"

"$SUMPLOG" serve --interface vcan0 --job "$job" --json >second.jsonl 2>second.err & program=$!
readings second.jsonl 20
ended=0
kill -TERM $program
wait $program || ended=$?
kill -TERM $vehicle $listener 2>/dev/null || true
wait 2>/dev/null || true
echo "serve ended with $ended"
exit $ended
