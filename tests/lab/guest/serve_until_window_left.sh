#!/usr/bin/env bash
# Runs in the lab: vehicle, program and listener as three processes on vcan0, until the temperature has been in its window
# and left it. Leaves in LAB_DIR: heard.log, journal.jsonl, job/, and the standard error of each.
set -euo pipefail
scenario=$1
least=64   # s: 60 s of job and the time to start
limit=240  # s; the scenario leaves its window after about 65 s, a busy machine gets the rest

cd "$LAB_DIR"
mkdir job
candump -d -r 4194304 -L vcan0 >heard.log 2>candump.err & listener=$!
"$SUMPLOG" simulate --interface vcan0 --scenario "$scenario" >simulate.out 2>simulate.err & vehicle=$!
"$SUMPLOG" serve --interface vcan0 --decoder demo-9 --data job --json >journal.jsonl 2>serve.err & program=$!

SECONDS=0
while [ $SECONDS -lt $limit ] && kill -0 $program 2>/dev/null && kill -0 $vehicle 2>/dev/null; do
  if [ $SECONDS -ge $least ] && grep -q '"kind":"window".*"from":"inside"' journal.jsonl; then break; fi
  sleep 1
done
sleep 2  # a little after the window, so that what follows is seen as well

ended=0
kill -TERM $program 2>/dev/null || true
wait $program || ended=$?
kill -TERM $vehicle $listener 2>/dev/null || true
wait $vehicle 2>/dev/null || true
wait $listener 2>/dev/null || true
echo "serve ended with $ended"
exit $ended
