#!/usr/bin/env bash
# Runs in the lab: can-utils' isotpsend and isotprecv talk over two controllers; isotpdump and candump listen.
# Takes from LAB_DIR payloads, one a line. Leaves there: sent (one payload a line), received, dump, heard.log.
set -euo pipefail
cd "$LAB_DIR"
candump -L can0 >heard.log & listener=$!
isotpdump -s 7E9 -d 7E1 can0 >dump & dumper=$!
stdbuf -oL isotprecv -s 7E1 -d 7E9 -l can0 >received & receiver=$!
sleep 1
while IFS= read -r payload; do
  for options in "" "-p CC" "-f 1000000"; do
    echo "$payload" | isotpsend -s 7E9 -d 7E1 $options can1
    echo "$payload" >>sent
    sleep 0.1
  done
done <payloads
sleep 1
kill $listener $dumper $receiver
wait 2>/dev/null || true
