#!/usr/bin/env python3
"""Judges what full_bus.sh left:   judge_full_bus.py FOLDER"""

import os
import sys

from job_checks import Checks, job_file, lines_of, read

LEAST_FRAMES_S = 500   # of the filled bus: 4,000 are sent where the emulated machine keeps up; the figure is printed
MOST_TIMES = 6         # processor time beside candump -l; the goal is 2, printed
MOST_QUIET = 0.05      # share of one processor with nothing on the bus

os.chdir(sys.argv[1])
checks = Checks()
costs = {name: (float(seconds), float(last) - float(first))
         for name, seconds, first, last in (line.split() for line in read("costs").decode().splitlines())}
quiet_s, quiet = costs["quiet"]
checks.that("nothing waits busily", quiet / quiet_s < MOST_QUIET, f"{quiet:.2f} s of processor time in {quiet_s:.0f} quiet seconds")
busy_s, frames = costs["frames"]
checks.that("the bus was full", frames / busy_s > LEAST_FRAMES_S, f"{frames / busy_s:.0f} frames a second")
ours, theirs = costs["ours"][1], costs["candump"][1]
checks.that("the program costs little more than a plain listener", theirs > 0 and ours / theirs < MOST_TIMES,
            f"{ours:.2f} s of processor time in {busy_s:.0f} s, candump -l {theirs:.2f} s: ratio {ours / theirs if theirs else 0:.2f}")
lines = lines_of(read("journal.jsonl"))
fluid = [line for line in lines if line["kind"] == "reading" and line["signal"] == "fluid_temperature" and "value" in line]
checks.that("temperatures went on", len(fluid) > busy_s, f"{len(fluid)}")
checks.that("no frame was dropped", b'"item":"drops"' not in read(job_file("job")))
checks.end()
