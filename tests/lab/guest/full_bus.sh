#!/usr/bin/env bash
# Runs in the lab: what `serve` costs. One quiet minute without a vehicle; then a vehicle on a bus that others fill with about
# 4,000 frames a second (500 kbit/s fully loaded), beside `candump -l` of the same traffic.
# Leaves in LAB_DIR: costs (processor seconds), journal.jsonl, job/, candump-*.log.
set -euo pipefail
scenario=$1
quiet=${2:-60}  # s
busy=${3:-30}   # s

cd "$LAB_DIR"
mkdir job quiet-job
ticks=$(getconf CLK_TCK)
# cost PID: processor seconds so far, user and system
cost() { awk -v t="$ticks" '{ sub(/.*\) /, ""); print ($12 + $13) / t }' "/proc/$1/stat"; }

"$SUMPLOG" serve --interface vcan0 --decoder demo-9 --data quiet-job --json >quiet.jsonl 2>quiet.err & program=$!
sleep 3
before=$(cost $program)
sleep "$quiet"
echo "quiet $quiet $before $(cost $program)" >costs
kill -TERM $program
wait $program || true

"$SUMPLOG" simulate --interface vcan0 --scenario "$scenario" >simulate.out 2>simulate.err & vehicle=$!
candump -r 4194304 -l vcan0 >candump.out 2>&1 & listener=$!
"$SUMPLOG" serve --interface vcan0 --decoder demo-9 --data job --json >journal.jsonl 2>serve.err & program=$!
sleep 3
# An emulated machine sleeps a millisecond at least: four of them, on identifiers that no tester uses.
fillers=()
for id in 100 180 200 280; do
  cangen vcan0 -g 1 -I $id -L 8 -D i >>cangen.out 2>&1 & fillers+=($!)
done
sleep 1
ours=$(cost $program); theirs=$(cost $listener); frames=$(cat candump-*.log | wc -l)
sleep "$busy"
echo "ours $busy $ours $(cost $program)" >>costs
echo "candump $busy $theirs $(cost $listener)" >>costs
echo "frames $busy $frames $(cat candump-*.log | wc -l)" >>costs
kill -TERM "${fillers[@]}"
sleep 1
ended=0
kill -TERM $program
wait $program || ended=$?
kill -TERM $vehicle $listener 2>/dev/null || true
wait 2>/dev/null || true
echo "serve ended with $ended"
exit $ended
