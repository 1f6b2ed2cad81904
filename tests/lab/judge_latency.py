#!/usr/bin/env python3
"""Judges what serve_and_stamp.sh left:   judge_latency.py FOLDER

The time of an event is the kernel's stamp of the frame that brought it; the line is stamped by whoever reads the pipe. The next
request is the tester's first frame behind an answer, both by the kernel's stamp: at `--rate 100` an answer is what it waits for.
Times are printed, not judged: they are the machine's as much as the program's.
"""
import json
import os
import sys

from job_checks import Checks, read

TESTER = {"7DF", *(f"7E{n:X}" for n in range(8))}


def quantile(values, share):
    return sorted(values)[min(int(share * len(values)), len(values) - 1)]


def told(name, values_ms):
    return f"{name}: median {quantile(values_ms, 0.5):.2f} ms, 99 % {quantile(values_ms, 0.99):.2f} ms, 99.9 % {quantile(values_ms, 0.999):.2f} ms of {len(values_ms)}"


def lines_ms():
    for row in read("stamped.jsonl").decode().splitlines():
        stamp, line = row.split(" ", 1)
        event = json.loads(line)
        if event["kind"] == "reading":
            yield int(stamp) / 1e3 - event["t"] * 1e3


def requests_ms():
    answered = None
    for row in read("heard.log").decode().splitlines():
        time, _, frame = row.split()
        seconds = float(time.strip("()"))
        if frame.split("#")[0] in TESTER:
            if answered is not None:
                yield (seconds - answered) * 1e3
            answered = None
        else:
            answered = seconds


os.chdir(sys.argv[1])
checks = Checks()
journal, requests = list(lines_ms()), list(requests_ms())
checks.that("readings came", len(journal) > 200, f"{len(journal)}")
checks.that("no line is older than its frame", min(journal) > -1, f"{min(journal):.2f} ms")
print(told("frame to journal line", journal))
print(told("answer to next request", requests))
checks.end()
