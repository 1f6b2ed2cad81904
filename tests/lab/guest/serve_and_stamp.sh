#!/usr/bin/env bash
# Runs in the lab: a vehicle, `serve` that asks as often as the answers come, and a listener; each journal line gets the time at
# which it came out of the program. Leaves in LAB_DIR: stamped.jsonl (microseconds of the wall clock, the line), heard.log, job/.
set -euo pipefail
scenario=$1
seconds=$2

cd "$LAB_DIR"
mkdir job
candump -d -r 4194304 -L vcan0 >heard.log 2>candump.err & listener=$!
"$SUMPLOG" simulate --interface vcan0 --scenario "$scenario" >simulate.out 2>simulate.err & vehicle=$!
mkfifo journal
/usr/bin/python3 -c '
import sys, time
for line in iter(sys.stdin.buffer.readline, b""):
    sys.stdout.buffer.write(b"%d %b" % (time.time_ns() // 1000, line))' <journal >stamped.jsonl & stamper=$!
"$SUMPLOG" serve --interface vcan0 --decoder demo-9 --data job --rate 100 --listen off --json >journal 2>serve.err & program=$!
sleep "$seconds"
ended=0
kill -TERM $program
wait $program || ended=$?
wait $stamper
kill -TERM $vehicle $listener 2>/dev/null || true
wait 2>/dev/null || true
echo "serve ended with $ended"
exit $ended
