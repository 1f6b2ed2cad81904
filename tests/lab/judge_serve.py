#!/usr/bin/env python3
"""Judges what serve_until_window_left.sh left:   judge_serve.py FOLDER VIN"""

import os
import re
import sys

from job_checks import Checks, job_file, lines_of, only_listed_requests, read, run, seen_readings

RATE_HZ = 2              # fluid temperatures asked for in a second: the first asker's own figure
LEAST_S = 60             # of job
RATE_TOLERANCE = 0.1     # share, of the middle one of all distances in job time
LEAST_SHARE = 0.7        # of the readings that the rate promises: a busy machine delays single ones
BUSY_MS = 100            # twice P2 of ISO 15765-4
MOST_AFTER_THE_END = 6   # readings that the listener may have after the job's file was closed

folder, vin = sys.argv[1:]
os.chdir(folder)
checks = Checks()
live = read("journal.jsonl")
lines = lines_of(live)
job = job_file("job")
heard = read("heard.log").decode()

for name in ("serve.err", "simulate.err", "candump.err"):
    said = read(name).decode(errors="replace").strip()
    if said:
        print(f"{name}:\n{said[-1500:]}")

vins = [line["vin"] for line in lines if line["kind"] == "vehicle" and "vin" in line]
checks.that("the VIN was read", bool(vins) and set(vins) == {vin}, vins[:1])
# ISO 15765-2: first frame (1LLL) with 49 02, and a flow control (30) from the tester, 8 below
answering = set(re.findall(r" vcan0 (7E[89A-F])#1[0-9A-F]{3}4902", heard))
flow = set(re.findall(r" vcan0 (7E[0-7])#30", heard))
checks.that("… by a message of several frames", any(f"{int(unit, 16) - 8:X}" in flow for unit in answering), sorted(answering))

# Answers that come late are the machine's: the simulated units answer after 12…16 ms.
asked, slowest_ms = None, 0.0
for at, request in re.findall(r"\((\d+\.\d+)\) vcan0 (7E1#03221A05|7E9#04621A05)", heard):
    if request.startswith("7E1"):
        asked = float(at)
    elif asked is not None:
        slowest_ms, asked = max(slowest_ms, 1000 * (float(at) - asked)), None
# The vehicle is a process of its own: when even it is late, the machine was too busy to hold anything against the program's timing.
busy = slowest_ms > BUSY_MS
print(f"     slowest temperature answer after {slowest_ms:.0f} ms" + ("; the machine was too busy: rate and losses are not judged" if busy else ""))

fluid = [line for line in lines if line["kind"] == "reading" and line["signal"] == "fluid_temperature"]
span = fluid[-1]["t"] - fluid[0]["t"] if len(fluid) > 1 else 0
checks.that("the job has at least 60 s of fluid temperatures", span >= LEAST_S, f"{span:.1f} s")
distances = sorted(after["t"] - before["t"] for before, after in zip(fluid, fluid[1:]))
middle = distances[len(distances) // 2] if distances else 0
checks.that("… two in a second", busy or abs(middle * RATE_HZ - 1) <= RATE_TOLERANCE
            and LEAST_SHARE <= (len(fluid) - 1) / (span * RATE_HZ) <= 1 + RATE_TOLERANCE,
            f"{len(fluid)} in {span:.1f} s, the middle distance is {middle:.3f} s")
checks.that("… each with a value", all("value" in line for line in fluid))

windows = [(line["from"], line["to"]) for line in lines if line["kind"] == "window"]
entered = [one for one in windows if one[1] == "inside"]
left = [one for one in windows if one[0] == "inside"]
checks.that("the window was entered once, from below", entered == [("below", "inside")], windows)
checks.that("… and left once, upwards", left == [("inside", "above")])
times = [line["t"] for line in lines]
checks.that("the journal's time never runs back", times == sorted(times))
lost = [line for line in lines if line["kind"] in ("loss", "gap")]
checks.that("nothing was lost and there was no gap", busy or not lost, lost[:3] or "")
checks.that("the kernel dropped nothing", b'"item":"drops"' not in read(job) and "DROPCOUNT" not in heard)

status, out, err = run(os.environ["SUMPLOG"], "verify", job)
checks.that("the job file verifies", status == 0, (out.decode() + err).strip()[:200])
status, replayed, err = run(os.environ["SUMPLOG"], "replay", job, "--json")
checks.that("the job file replays", status == 0, err[:300])
checks.that("its journal equals the live one byte for byte", replayed == live, f"{len(replayed)} and {len(live)} bytes")
status, from_listener, err = run(os.environ["SUMPLOG"], "replay", "heard.log", "--decoder", "demo-9", "--json")
checks.that("the listener's log replays", status == 0, err[:300])
ours, theirs = seen_readings(lines), seen_readings(lines_of(from_listener))
same = theirs[:len(ours)] == ours and len(theirs) - len(ours) <= MOST_AFTER_THE_END
first = next((number for number, (one, other) in enumerate(zip(ours, theirs)) if one != other), None)
checks.that("… and gives the same readings", same and bool(ours),
            f"{len(ours)} and {len(theirs)}" + (f"; first difference at {first}: {ours[first]} {theirs[first]}" if first is not None else ""))
only_listed_requests(checks, "heard.log")
checks.end()
