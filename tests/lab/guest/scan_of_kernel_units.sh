#!/usr/bin/env bash
# Runs in the lab: a scan on can0, of units on can1 that answer through the kernel's own ISO-TP sockets.
# Leaves in LAB_DIR: scan.txt and scan.jsonl, job/, heard.log, requests (what the units got), ended (the exit status).
set -euo pipefail
lab=$1

cd "$LAB_DIR"
mkdir job
candump -d -r 4194304 -L can1 >heard.log 2>candump.err & listener=$!
/usr/bin/python3 -B "$lab/guest/kernel_units.py" can1 >requests 2>units.err & units=$!
for _ in $(seq 50); do grep -q ready requests && break; sleep 0.2; done
grep -q ready requests
ended=0
"$SUMPLOG" scan --interface can0 --decoder "$lab/../scan/named-units" --data job >scan.txt 2>scan.err || ended=$?
echo $ended >ended
"$SUMPLOG" scan --json "$(find job -type f -exec grep -l '^# sumplog-job 1' {} +)" >scan.jsonl 2>replayed.err || true
kill -TERM $listener $units 2>/dev/null || true
wait 2>/dev/null || true
