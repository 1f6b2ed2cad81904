#!/usr/bin/env python3
"""A file past 500 lines needs a reason, written in its first lines as "longer than 500 lines because …"."""

from tree import Report, files, text

LIMIT = 500  # lines; about 300 already ask whether the file holds two concepts
REASON = "longer than 500 lines because"
REASON_WITHIN = 15  # lines

report = Report()
checked = 0
for path in files("src/*", "tests/*", "CMakeLists.txt", ".ci/*"):
    content = text(path)
    if content is None or path.endswith((".log", ".csv", ".json", ".jsonl", ".asc")):
        continue  # captures and expected outputs are data
    checked += 1
    lines = content.splitlines()
    if len(lines) > LIMIT and not any(REASON in line for line in lines[:REASON_WITHIN]):
        report.add(path, 0, f"{len(lines)} lines; split it along its concepts, or say why: \"{REASON} …\"")
report.end(f"{checked} files are at most {LIMIT} lines long, or say why not")
