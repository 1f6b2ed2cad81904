#!/usr/bin/env python3
"""The threat model names the tests that hold its claims: each claim has one, and each is there.     BUILD"""

import re
import subprocess
import sys

from tree import Report, text

DOCUMENT = "docs/threat_model.md"

listed = subprocess.run(["ctest", "--test-dir", sys.argv[1], "-N"], check=True, capture_output=True, text=True).stdout
there = set(re.findall(r"Test +#\d+: (\S+)", listed))
if "_NOT_BUILT" in listed:
    print("not all tests are built: their names are not known")
    sys.exit(77)

report = Report()
named = 0
in_table = False
for number, line in enumerate(text(DOCUMENT).splitlines(), 1):
    cells = [cell.strip() for cell in line.strip("|").split("|")] if line.startswith("|") else []
    in_table = bool(cells) and (in_table or cells[-1] == "held by")
    if not in_table or cells[-1] == "held by" or set(cells[-1]) == {"-"}:
        continue
    tests = re.findall(r"`([^`]+)`", cells[-1])
    if not tests:
        report.add(DOCUMENT, number, "this claim names no test")
    for test in tests:
        named += 1
        if test not in there:
            report.add(DOCUMENT, number, f"there is no test {test}")
if named < 40:
    report.add(DOCUMENT, 0, f"only {named} tests were found in its tables")
report.end(f"{named} tests are named, and all are there")
