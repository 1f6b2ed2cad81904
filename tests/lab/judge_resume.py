#!/usr/bin/env python3
"""Judges what serve_killed_and_resumed.sh left:   judge_resume.py FOLDER"""

import os
import re
import sys

from job_checks import Checks, job_file, only_listed_requests, read, run

TORN_BYTES = 16     # the fragment that serve_killed_and_resumed.sh leaves at the end of the file
MOST_UNSEEN = 4096  # bytes: what the killed program had recorded but not yet printed

os.chdir(sys.argv[1])
checks = Checks()
first, second = read("first.jsonl"), read("second.jsonl")
job = job_file("job")
for name in ("first.err", "second.err", "simulate.err"):
    said = read(name).decode(errors="replace").strip()
    if said:
        print(f"{name}:\n{said[-1500:]}")

before = first[:first.rfind(b"\n") + 1]  # the kill may have cut the last line
status, killed, err = run(os.environ["SUMPLOG"], "replay", "killed.log", "--json")
checks.that("the killed job replays", status == 0, err[:300])
checks.that("… and begins with the journal that the killed program had printed", bool(before) and killed.startswith(before),
            f"{len(killed)} and {len(before)} bytes")
status, whole, err = run(os.environ["SUMPLOG"], "replay", job, "--json")
checks.that("the resumed job replays", status == 0, err[:300])
checks.that("… and begins with the first journal", whole.startswith(before))
checks.that("… and ends with the second", bool(second) and whole.endswith(second), f"{len(whole)} and {len(second)} bytes")
checks.that("… and has next to nothing between", 0 <= len(whole) - len(before) - len(second) <= MOST_UNSEEN,
            f"{len(whole) - len(before) - len(second)} bytes")
items = read(job)
checks.that("the job says that its end was torn, how long the fragment was, and that it was resumed",
            bool(re.search(rb'"item":"torn","bytes":%d\b' % TORN_BYTES, items)) and b'"item":"resume"' in items)
checks.that("everything before the kill is still there", items.startswith(read("killed.log")))
status, out, err = run(os.environ["SUMPLOG"], "verify", job)
checks.that("the job file verifies", status == 0, (out.decode() + err).strip()[:200])
only_listed_requests(checks, "heard.log")
checks.end()
