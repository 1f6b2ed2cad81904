#!/usr/bin/env python3
"""No file names a path of the machine where it was written, or the host of a package registry."""

import re

from tree import Report, files, text

# Written so that this file does not match itself.
RULES = [
    (re.compile(r"(?<![\w.$}~])/(home|root|work|farm|mnt|Users|build)/[\w.]"), "a path of one machine"),
    (re.compile(r"(?<![\w.$}~])/tmp/(?!\.\.\.|…)\w"), "a fixed name in the folder for temporary files; use mktemp"),
    (re.compile(r"\b(deb|ftp|security|snapshot|httpredir|packages)(\.[a-z]{2})?\.debian\.(org|net)\b"), "a package host"),
    (re.compile(r"\b(registry|npm|pypi|crates|proxy)\.[a-z]+js\.org|\bpypi\.org|\.pkg\.dev\b|\bfiles\.pythonhosted"),
     "a package host"),
    (re.compile(r"\b(10\.\d{1,3}|192\.168|172\.(1[6-9]|2\d|3[01]))\.\d{1,3}\.\d{1,3}\b"), "a private network address"),
]

report = Report()
checked = 0
for path in files("*"):
    content = text(path)
    if content is None:
        continue
    checked += 1
    for number, line in enumerate(content.splitlines(), 1):
        for rule, what in RULES:
            if rule.search(line):
                report.add(path, number, f"{what}: {line.strip()[:100]}")
report.end(f"{checked} files name no machine")
