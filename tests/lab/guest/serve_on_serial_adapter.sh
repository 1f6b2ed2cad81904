#!/usr/bin/env bash
# Runs in the lab: `serve` on a serial adapter whose bit rate nobody told, through error-passive, bus-off, and the adapter
# pulled out and plugged in again. Before that, a while on a bus of a rate that the program does not try.
# Leaves in LAB_DIR: heard.log (the bus), adapter.log and strange.log (what the driver told the adapter), journal.jsonl, job/.
set -euo pipefail
scenario=$1
guest=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
port=/dev/adapter0

cd "$LAB_DIR"
mkdir job strange-job
mkfifo orders
exec 7<>orders
candump -d -r 4194304 -L vcan0 >heard.log 2>candump.err & listener=$!
"$SUMPLOG" simulate --interface vcan0 --scenario "$scenario" >simulate.out 2>simulate.err & vehicle=$!

# adapter RATE LOG: at a bus of this bit rate
adapter() {
  python3 -B "$guest/serial_adapter.py" $port vcan0 "$1" "$2" <orders 2>>adapter.err & adapter=$!
  for _ in $(seq 100); do [ -e $port ] && return 0; sleep 0.1; done
  echo "the adapter did not start"; return 1
}
# readings NUMBER: waits until the journal holds so many more fluid temperatures with a value
readings() {
  local want=$(($(grep -c '"signal":"fluid_temperature","value"' journal.jsonl || true) + $1)) deadline=$((SECONDS + 40))
  while [ $SECONDS -lt $deadline ]; do
    [ "$(grep -c '"signal":"fluid_temperature","value"' journal.jsonl || true)" -ge "$want" ] && return 0
    sleep 0.2
  done
  echo "no $1 more fluid temperatures after 40 s"; return 1
}

adapter 125000 strange.log
"$SUMPLOG" serve --interface $port --data strange-job --json --for 6 >strange.jsonl 2>strange.err || true
kill $adapter; wait $adapter 2>/dev/null || true
rm -f $port

adapter 250000 adapter.log
date +%s.%N >started
"$SUMPLOG" serve --interface $port --decoder demo-9 --data job --json >journal.jsonl 2>serve.err & program=$!
readings 6
echo passive >&7
readings 4
echo bus-off >&7
readings 6
echo unplug >&7
sleep 5
echo plug >&7
readings 6

ended=0
kill -TERM $program
wait $program || ended=$?

# The link stays up, the terminal holds it; it goes bus-off before the next program starts.
echo next >&7
echo bus-off >&7
for _ in $(seq 100); do
  ip -details link show can0 >bus-off-before
  grep -q BUS-OFF bus-off-before && break
  sleep 0.1
done
mkdir off-job
"$SUMPLOG" serve --interface can0 --decoder demo-9 --data off-job --for 3 >off.out 2>off.err || true

kill -TERM $vehicle $listener $adapter 2>/dev/null || true
wait 2>/dev/null || true
echo "serve ended with $ended"
exit $ended
