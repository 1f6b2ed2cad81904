#!/usr/bin/env python3
"""Judges what sweep_left_and_gone_on.sh left:   judge_sweep.py FOLDER"""

import collections
import json
import os
import re
import sys

from job_checks import Checks, job_file, only_listed_requests, read, run

SINGLE = re.compile(r"\((\d+\.\d+)\) \S+ (7DF|7E[0-7])#0([1-7])([0-9A-F]+)$")

os.chdir(sys.argv[1])
checks = Checks()
for name in ("first.err", "second.err", "simulate.err"):
    print(f"{name}:\n{read(name).decode(errors='replace').strip()[-1200:]}")
ended = dict(line.split() for line in read("ended").decode().splitlines())
checks.that("without a reading by hand nothing is sure, and both say so", ended == {"first": "1", "second": "1"}, ended)

asked = []  # time, identifier, payload
for line in read("heard.log").decode().splitlines():
    found = SINGLE.match(line.split(" T")[0].split(" R")[0])
    if found:
        time, unit, length, data = found.groups()
        asked.append((float(time), unit, data[:2 * int(length)]))
worst = max((sum(1 for other in asked[i:i + 20] if other[0] - one[0] <= 1.0) for i, one in enumerate(asked)), default=0)
checks.that("never more than ten requests within a second", 0 < worst <= 10, worst)
swept = [(time, data) for time, unit, data in asked if unit == "7E1" and data.startswith("22")]
times = collections.Counter(data for _, data in swept)
wanted = {f"22{one:04X}" for one in range(0x1A00, 0x1A80)}
checks.that("all 128 identifiers were asked for and nothing else", set(times) == wanted, len(times))
answering = {f"22{0x1A00 + 6 * i:04X}" for i in range(20)}
again = {data: count for data, count in times.items() if data not in answering and count > 1}
checks.that("a refused one is not asked again, also not after it was left (one may have been on its way)", len(again) <= 1, again)
first = int(read("asked_first"))
checks.that("it was left in its first pass", 50 <= first < 128, first)

status, out, err = run(os.environ["SUMPLOG"], "replay", job_file("job"), "--json")
lines = [json.loads(line) for line in out.decode().splitlines()]
checks.that("the job replays", status == 0, err[-300:])
noted = [(line["t"], line["fields"]["text"]) for line in lines if line["kind"] == "entry" and line["name"] == "note"]
notes = [text for _, text in noted]
checks.that("it began twice, with who agreed", [note.startswith("sweep begun: 7E1:1A00-1A7F, agreed by L. Lab") for note in notes[:2]]
            == [True, True], notes)
checks.that("and the fault code ended it", notes[-1:] == ["sweep stopped: fault code P0301 of 7E8 appeared"], notes[-1:])
stopped = [time for time, text in noted if text.startswith("sweep stopped")]
late = [time for time, _ in swept if stopped and time > stopped[0] + 0.2]
checks.that("after that nothing is asked of the unit", not late, len(late))
checks.that("the job went on to its end", bool(stopped) and lines[-1]["t"] > stopped[0] + 5)
moving = {f"22{0x1A00 + 6 * i:04X}" for i in range(4)}
polled = min((times[one] for one in moving), default=0)
still = max((times[one] for one in answering - moving), default=0)
checks.that("what moves is asked oftener than what stands still", polled > still + 3, (polled, still))
status, out, err = run(os.environ["SUMPLOG"], "verify", job_file("job"))
checks.that("the job file verifies", status == 0, (out.decode() + err).strip()[:200])
only_listed_requests(checks, "heard.log")

# From the record to a decoder: three readings of a probe, here taken from what the gearbox told, half a degree off.
FLUID = re.compile(r"\((\d+\.\d+)\) \S+ 7E9#04621A00([0-9A-F]{2})")
told = [(float(time), int(raw, 16) - 40) for time, raw in (found.groups() for found in FLUID.finditer(read("heard.log").decode()))]
frames = re.search(r"^\((\d+\.\d+)\)", read(job_file("job")).decode(), re.MULTILINE)
checks.that("the gearbox told its fluid temperature all along", len(told) > 15 and frames, len(told))
seen = []
for time, value in (told[1], told[len(told) // 2], told[-2]):
    seen += ["--seen", f"{value + 0.5}@+{time - float(frames.group(1)):.1f}±1.5"]
status, out, err = run(os.environ["SUMPLOG"], "learn", job_file("job"), *seen, "--write", "found")
print(out.decode())
checks.that("three readings by hand are enough for a decoder", status == 0 and os.path.exists("found/signals.toml"), err[-300:])
status, out, err = run(os.environ["SUMPLOG"], "decoders", "check", "./found")
checks.that("the decoder is in order", status == 0, err[-300:])
status, out, err = run(os.environ["SUMPLOG"], "replay", job_file("job"), "--decoder", "./found", "--json")
lines = [json.loads(line) for line in out.decode().splitlines()]
readings = [(line["t"], line["value"]) for line in lines if line["kind"] == "reading" and line["signal"] == "fluid_temperature"]
off = [min((abs(value - true) for time, true in told if abs(time - at) < 3), default=99) for at, value in readings]
checks.that("and reads the job as the gearbox meant it, within a step", len(off) > 15 and max(off) <= 1.0, (len(off), max(off, default=None)))
checks.end()
