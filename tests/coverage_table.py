#!/usr/bin/env python3
"""Lines and branches of src/core that ran, for each folder, out of what gcov counts.     coverage_table.py BUILD [--part]

Branches that only an exception takes are left out: the compiler makes one for nearly every call. So are those of an assert, which
end the program. BUILD/untested.txt lists the rest that were never taken, and the lines that never ran, but for those that stand with
their reason in tests/coverage_left.txt. Exit status 1: one has no reason, or a place of that list does not stand untested.
--part: only a part of the tests was run, and nothing is said of the list.
"""

import collections
import json
import pathlib
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
build = pathlib.Path(sys.argv[1]).resolve()
lines, branches = {}, {}  # by file: {line: count}, {(line, number): count}; a header is seen by many
texts = {}  # by file


def places_left():
    """Of coverage_left.txt: {(file, text of the line): [reason, ...]}, a reason for each time that the line stands there untested."""
    left = {}
    file = ROOT / "tests/coverage_left.txt"
    reason = None
    for number, line in enumerate(file.read_text().splitlines(), 1):
        name, colon, text = line.partition(": ")
        if line.startswith("= "):
            reason = line[2:].strip()
        elif line and not line.startswith("#"):
            if not reason or not colon:
                sys.exit(f"coverage: {file.name}:{number}: neither \"= REASON\" nor \"FILE: LINE\" below one: {line}")
            left.setdefault((name, text.strip()), []).append(reason)
    return left


def text_of(name, at):
    if name not in texts:
        texts[name] = (ROOT / "src/core" / name).read_text().splitlines()
    return texts[name][at - 1].strip() if at <= len(texts[name]) else ""


for data in sorted(build.glob("CMakeFiles/sumplog_core.dir/**/*.gcda")):
    out = subprocess.run(["gcov", "--json-format", "--stdout", "--branch-probabilities", str(data)], cwd=build, check=True,
                         capture_output=True).stdout
    for file in json.loads(out)["files"]:
        path = (build / file["file"]).resolve()
        if ROOT / "src/core" not in path.parents:
            continue
        name = str(path.relative_to(ROOT / "src/core"))
        for line in file["lines"]:
            at = line["line_number"]
            seen = lines.setdefault(name, {})
            seen[at] = seen.get(at, 0) + line["count"]
            for number, branch in enumerate(line["branches"]):
                if branch["throw"] or text_of(name, at).startswith("assert("):
                    continue
                taken = branches.setdefault(name, {})
                taken[at, number] = taken.get((at, number), 0) + branch["count"]

if not lines:
    sys.exit("coverage: nothing was counted; was core_tests run in this build?")
left = places_left()
excused = collections.Counter()  # by reason
without_reason = 0
with open(build / "untested.txt", "w") as file:
    for name in sorted(lines):
        for at in sorted(set(lines[name]) | {line for line, _ in branches.get(name, {})}):
            missed = [number for (line, number), count in branches.get(name, {}).items() if line == at and count == 0]
            never = lines[name].get(at) == 0
            if not never and not missed:
                continue
            text = text_of(name, at)
            if left.get((name, text)):
                excused[left[name, text].pop(0)] += 1
                continue
            without_reason += 1
            what = "never runs" if never else f"{len(missed)} branches never taken"
            file.write(f"{name}:{at}: {what}: {text}\n")


def folder(name):
    parts = name.split("/")
    return parts[0] if parts[:2] != ["vehicle", "hostile"] else "vehicle/hostile"


def share(counts):
    return f"{sum(1 for count in counts if count) / len(counts) * 100:6.1f} % of {len(counts):5}" if counts else f"{'':17}"


print(f"{'folder':16}{'lines':>18}{'branches':>20}")
for one in sorted({folder(name) for name in lines}) + ["all"]:
    inside = [name for name in lines if one in (folder(name), "all")]
    print(f"{one:16}{share([c for name in inside for c in lines[name].values()]):>18}"
          f"{share([c for name in inside for c in branches.get(name, {}).values()]):>20}")

if excused:
    print(f"\n{sum(excused.values())} places are left untested, each with its reason (tests/coverage_left.txt):")
for reason, count in excused.most_common():
    print(f"{count:5}  {reason}")
if "--part" in sys.argv[2:]:
    sys.exit()
stale = [f"{name}: {text}" for (name, text), reasons in left.items() for _ in reasons]
if stale:
    print(f"\n{len(stale)} places of that list do not stand untested any more: take them out of it")
for place in stale:
    print(f"       {place}")
if without_reason:
    print(f"\n{without_reason} places are untested without a reason: {build / 'untested.txt'}")
if stale or without_reason:
    sys.exit(1)
