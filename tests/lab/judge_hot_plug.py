#!/usr/bin/env python3
"""Judges what serve_through_hot_plug.sh left:   judge_hot_plug.py FOLDER"""

import os
import sys

from job_checks import Checks, job_file, lines_of, only_listed_requests, read, run

SOON_S = 40   # generous: an emulated machine on a busy one
SLACK_S = 3   # the marks are taken by a shell that looks ten times a second

os.chdir(sys.argv[1])
checks = Checks()
live = read("journal.jsonl")
lines = lines_of(live)
print("serve.err:\n" + read("serve.err").decode(errors="replace").strip()[-1500:])
told = read("refused.err").decode()
checks.that("without the right to set up the link: exit 1, one line, what an administrator types, no job",
            read("refused").strip() == b"1" and not read("refused.out") and told.count("\n") == 1
            and "ip link set can0 up type can bitrate 250000" in told, told)
marks = {name: float(at) for at, name in (line.split() for line in read("marks").decode().splitlines())}
fluid = [line["t"] for line in lines if line["kind"] == "reading" and line["signal"] == "fluid_temperature" and "value" in line]
checks.that("first temperature soon, bit rate unknown", bool(fluid) and fluid[0] - marks["start"] < SOON_S,
            f"{fluid[0] - marks['start']:.2f} s after the start" if fluid else "none")
before = [t for t in fluid if t < marks["gone"]]
after = [t for t in fluid if t > marks["back"]]
checks.that("none while the controller was away", bool(before) and bool(after) and len(before) + len(after) == len(fluid))
checks.that("the job went on by itself", bool(after) and after[0] - marks["back"] < SOON_S,
            f"next temperature {after[0] - marks['back']:.2f} s after it was put back" if after else "none")
gaps = [line for line in lines if line["kind"] == "gap"]
checks.that("one gap, from the last temperature before to the first after", len(gaps) == 1 and bool(before) and bool(after)
            and abs(gaps[0]["from_t"] - before[-1]) < 0.01 and abs(gaps[0]["to_t"] - after[0]) < 0.01, gaps)
states = [line["to"] for line in lines if line["kind"] == "window" and bool(after) and marks["gone"] - SLACK_S < line["t"] < after[0]]
checks.that("the window was unknown in it", states[-1:] == ["unknown"], states)
said = [line["state"] for line in lines if line["kind"] == "check" and marks["gone"] < line["t"] < marks["back"]]
checks.that("… and the check never more than that", set(said) <= {"unknown"}, said)
job = job_file("job")
status, out, err = run(os.environ["SUMPLOG"], "verify", job)
checks.that("the job file verifies", status == 0, (out.decode() + err).strip()[:200])
status, replayed, err = run(os.environ["SUMPLOG"], "replay", job, "--json")
checks.that("its journal equals the live one byte for byte", status == 0 and replayed == live, f"{len(replayed)} and {len(live)} bytes")
only_listed_requests(checks, "heard.log")
checks.end()
