#!/usr/bin/env python3
"""Lines and branches of src/core that ran, for each folder, out of what gcov counts.     coverage_table.py BUILD

Branches that only an exception takes are left out: the compiler makes one for nearly every call. So are those of an assert, which
end the program. BUILD/untested.txt lists the rest that were never taken, and the lines that never ran.
"""

import json
import pathlib
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
build = pathlib.Path(sys.argv[1]).resolve()
lines, branches = {}, {}  # by file: {line: count}, {(line, number): count}; a header is seen by many
texts = {}  # by file


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
with open(build / "untested.txt", "w") as file:
    for name in sorted(lines):
        for at in sorted(set(lines[name]) | {line for line, _ in branches.get(name, {})}):
            missed = [number for (line, number), count in branches.get(name, {}).items() if line == at and count == 0]
            never = lines[name].get(at) == 0
            if never or missed:
                what = "never runs" if never else f"{len(missed)} branches never taken"
                file.write(f"{name}:{at}: {what}: {text_of(name, at)}\n")


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
