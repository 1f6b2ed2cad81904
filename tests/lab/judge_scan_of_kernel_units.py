#!/usr/bin/env python3
"""Judges what scan_of_kernel_units.sh left:   judge_scan_of_kernel_units.py FOLDER"""

import json
import os
import sys

from job_checks import Checks, job_file, only_listed_requests, read, run

sys.path.append(os.path.join(os.path.dirname(os.path.abspath(__file__)), "guest"))
from kernel_unit_codes import BRAKE_CODES, TRANSMISSION_CODES  # the units' own lists

os.chdir(sys.argv[1])
checks = Checks()
for name in ("scan.err", "replayed.err", "units.err", "candump.err"):
    said = read(name).decode(errors="replace").strip()
    if said:
        print(f"{name}:\n{said[-1500:]}")
lines = [json.loads(line) for line in read("scan.jsonl").decode().splitlines()]
scans = [line for line in lines if "asked" in line]
checks.that("there is one scan", len(scans) == 1)
scan = scans[0]
checks.that("three units answered", scan["answered"] == ["7E8 (engine)", "7E9 (transmission)", "7EA (brakes)"], scan["answered"])
checks.that("the fourth was silent, and the program says so", scan["silent"] == ["7EB (selector)"], scan["silent"])
checks.that("so the scan is not complete", not scan["complete"])
checks.that("which is the exit status, too", read("ended").decode().strip() == "1")


def told(ecu, service):
    """The codes of a unit: (code, raw and status), in its order."""
    lists = [line["codes"] for line in lines if line.get("ecu") == ecu and line.get("service") == service and "codes" in line]
    checks.that(f"{ecu} told its codes by {service} once", len(lists) == 1, len(lists))
    return [(code["code"], code["raw"]) for code in lists[0]] if lists else []


# SAE J2012: the first two bits are the letter (P C B U), the rest hex digits; the third byte is the failure type.
LETTERS = "PCBU"


def named(raw):
    first = int(raw[0], 16)
    return f"{LETTERS[first >> 2]}{first & 3}{raw[1:4]}" + (f"-{raw[4:6]}" if len(raw) > 4 else "")


for ecu, listed in (("7E9", TRANSMISSION_CODES), ("7EA", BRAKE_CODES)):
    sent = [entry[:6] for entry in listed]
    got = told(ecu, "19 02")
    checks.that(f"all {len(sent)} codes of {ecu} are there, as they were sent", [raw for _, raw in got] == sent, len(got))
    checks.that("and have their names", [code for code, _ in got] == [named(raw) for raw in sent])
checks.that("stored codes of the engine", [c for c, _ in told("7E8", "03")] == ["P0301", "P0128", "P0562"])
checks.that("pending ones", [c for c, _ in told("7E8", "07")] == ["P0420"])
checks.that("an empty list of permanent codes is an answer", told("7E8", "0A") == [])
frozen = [line for line in lines if "freeze_frame" in line]
checks.that("the freeze frame is read", any(value["signal"] == "engine_speed" and value["value"] == 700
                                            for line in frozen for value in line["freeze_frame"]))
records = {line["service"] for line in lines if line.get("ecu") == "7E9" and "record" in line}
checks.that("snapshot and extended data are kept", records == {"19 04", "19 06"}, records)
pending = read("heard.log").decode().count("7E9#037F1978")
checks.that("four times \"response pending\" before the list of 7E9", pending == 4, pending)
checks.that("the supply voltage stands beside the codes", scan.get("supply_low_v") == 12.5, scan.get("supply_low_v"))
text = read("scan.txt").decode()
checks.that("the text fits 80 columns", max(map(len, text.splitlines()), default=0) <= 80)
checks.that("and says that it is not complete", "The scan is not complete:" in text)
status, out, err = run(os.environ["SUMPLOG"], "verify", job_file("job"))
checks.that("the job file verifies", status == 0, (out.decode() + err).strip()[:200])
only_listed_requests(checks, "heard.log")
checks.end()
