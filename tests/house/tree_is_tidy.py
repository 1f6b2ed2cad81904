#!/usr/bin/env python3
"""Top level, executable bits, and the commands and links of the documents hold together."""

import os
import re

from tree import ROOT, Report, files, text

TOP_LEVEL = {"CMakeLists.txt", "CMakePresets.json", "README.md", "DEVELOPERS.md", "LICENSE",
             "src", "decoders", "captures", "tests", "docs"}
README_COMMANDS = ["bash src/demo.sh", "bash tests/run.sh"]

report = Report()
everything = files("*")

for name in sorted({path.split("/")[0] for path in everything}):
    if name not in TOP_LEVEL and not name.startswith("."):
        report.add(name, 0, "is not one of the names that the top level may have")

for path in everything:
    with open(os.path.join(ROOT, path), "rb") as file:
        script = file.read(2) == b"#!"
    executable = os.access(os.path.join(ROOT, path), os.X_OK)
    if script and not executable:
        report.add(path, 1, "begins with #! and is not executable: chmod +x")
    if executable and not script:
        report.add(path, 0, "is executable and has no #! line: chmod -x")

for command in README_COMMANDS:
    if "README.md" in everything and command not in text("README.md"):
        report.add("README.md", 0, f"does not name `{command}`")

for path in (one for one in everything if one.endswith(".md")):
    content = text(path)
    for number, line in enumerate(content.splitlines(), 1):
        for script in re.findall(r"\b(?:bash|python3) ((?:src|tests|\.ci)/[\w./-]+)", line):
            if script not in everything:
                report.add(path, number, f"names {script}, which is not there")
        for target in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", line):
            if re.match(r"[a-z]+:", target):
                continue
            if not os.path.exists(os.path.join(ROOT, os.path.dirname(path), target)):
                report.add(path, number, f"links to {target}, which is not there")
report.end(f"{len(everything)} files stand where they belong")
