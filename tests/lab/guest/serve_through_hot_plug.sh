#!/usr/bin/env bash
# Runs in the lab: `serve` on a controller whose bit rate nobody told; the controller is removed and put back meanwhile.
# The vehicle speaks on vcan0, a gateway of the kernel joins that to can1, and can1 shares a bus with can0.
# Leaves in LAB_DIR: heard.log, journal.jsonl, job/, marks (when the controller went and came), and the standard error of each.
# refused.err: what a user without any right was told.
# It asks the outside by the files "remove" and "put-back".
set -euo pipefail
scenario=$1

cd "$LAB_DIR"
mkdir job
ip link set can0 down
refused=0
nobodys=$(mktemp -d)
chmod 777 "$nobodys"
runuser -u nobody -- "$SUMPLOG" serve --interface can0 --bitrate 250000 --data "$nobodys/job" >refused.out 2>refused.err || refused=$?
echo $refused >refused
[ ! -e "$nobodys/job" ] || echo "a job folder was made" >>refused.out
cangw -A -s vcan0 -d can1 -e
cangw -A -s can1 -d vcan0 -e
candump -d -r 4194304 -L vcan0 >heard.log 2>candump.err & listener=$!
"$SUMPLOG" simulate --interface vcan0 --scenario "$scenario" >simulate.out 2>simulate.err & vehicle=$!

readings() {
  local want=$(($(grep -c '"signal":"fluid_temperature","value"' journal.jsonl || true) + $1)) deadline=$((SECONDS + 60))
  while [ $SECONDS -lt $deadline ]; do
    [ "$(grep -c '"signal":"fluid_temperature","value"' journal.jsonl || true)" -ge "$want" ] && return 0
    sleep 0.2
  done
  echo "no $1 more fluid temperatures after 60 s"; return 1
}
mark() { echo "$(date +%s.%N) $1" >>marks; }

mark start
"$SUMPLOG" serve --interface can0 --decoder demo-9 --data job --json >journal.jsonl 2>serve.err & program=$!
readings 10
touch remove
for _ in $(seq 300); do [ -e /sys/class/net/can0 ] || break; sleep 0.1; done
mark gone
sleep 5
mark back
touch put-back
readings 10
ip -details -statistics link show can0 >can0.txt

ended=0
kill -TERM $program
wait $program || ended=$?
kill -TERM $vehicle $listener 2>/dev/null || true
wait 2>/dev/null || true
echo "serve ended with $ended"
exit $ended
