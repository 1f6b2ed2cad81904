#!/usr/bin/env python3
"""Judges what scans_before_and_after.sh left:   judge_scan.py FOLDER"""

import json
import os
import sys

from job_checks import Checks, job_file, only_listed_requests, read, run

os.chdir(sys.argv[1])
checks = Checks()
for name in ("before.err", "after.err", "simulate.err", "replayed.err"):
    said = read(name).decode(errors="replace").strip()
    if said:
        print(f"{name}:\n{said[-1500:]}")
ended = dict(line.split() for line in read("ended").decode().splitlines())
lines = [json.loads(line) for line in read("after.jsonl").decode().splitlines()]
scans = [line for line in lines if "asked" in line]
compared = [line for line in lines if line["kind"] == "compared"]
checks.that("there is a scan before and one after", [scan["scan"] for scan in scans] == ["before", "after"])
# In each of the two vehicles one named unit never answers: no scan of them is complete, and the program says so.
checks.that("both say which unit was silent", all(len(scan["silent"]) == 1 for scan in scans),
            [scan["silent"] for scan in scans])
checks.that("and are not complete", not any(scan["complete"] for scan in scans))
checks.that("which is the exit status, too", ended == {"before": "1", "after": "1"}, ended)
checks.that("they are compared", len(compared) == 1)
kinds = {line["change"] for line in compared[0]["codes"]} if compared else set()
wanted = {"same", "status changed", "gone", "new", "unit silent now", "unit silent before"}
checks.that("every kind of difference is found", kinds == wanted, kinds)
checks.that("a memory that was cleared in between is visible", bool(compared and compared[0].get("cleared")))
for name in ("before.txt", "after.txt"):
    text = read(name).decode()
    checks.that(f"{name} fits 80 columns", max(map(len, text.splitlines()), default=0) <= 80)
    checks.that(f"{name} says that it is not complete", "The scan is not complete:" in text)
checks.that("after.txt holds the comparison", "Against the scan before" in read("after.txt").decode())
status, out, err = run(os.environ["SUMPLOG"], "verify", job_file("job"))
checks.that("the job file verifies", status == 0, (out.decode() + err).strip()[:200])
only_listed_requests(checks, "heard.log")
checks.end()
