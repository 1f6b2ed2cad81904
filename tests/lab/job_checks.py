"""What both lab tests ask of a job: its files, its journal, and other programs' view of the same bus."""

import glob
import json
import os
import subprocess
import sys

PROGRAM = os.environ.get("SUMPLOG") or sys.exit("SUMPLOG must name the program")


class Checks:
    """Says of each claim whether it holds; ends the test with 1 when one does not."""

    def __init__(self):
        self.failed = 0

    def that(self, claim, holds, seen=""):
        print(f"{'ok  ' if holds else 'NOT '} {claim}{f': {seen}' if seen != '' else ''}")
        self.failed += not holds

    def end(self):
        sys.exit(1 if self.failed else 0)


def run(*command):
    done = subprocess.run(command, capture_output=True, check=False)
    return done.returncode, done.stdout, done.stderr.decode(errors="replace").strip()


def lines_of(journal):
    return [json.loads(line) for line in journal.decode().splitlines()]


def job_file(folder):
    """The one job file below a folder."""
    found = []
    for path in glob.glob(os.path.join(folder, "**", "*"), recursive=True):
        if os.path.isfile(path):
            with open(path, "rb") as file:
                if file.readline() == b"# sumplog-job 1\n":
                    found.append(path)
    if len(found) != 1:
        sys.exit(f"one job file was expected below {folder}: {found}")
    return found[0]


def read(path):
    with open(path, "rb") as file:
        return file.read()


def seen_readings(lines):
    """(signal, value, unit) of every reading, in order."""
    return [(line["signal"], line.get("value"), line["ecu"]) for line in lines if line["kind"] == "reading"]


def only_listed_requests(checks, heard):
    """The independent script: nothing that the program sent is outside the guard's list."""
    status, out, err = run("python3", "-B", os.path.join(os.path.dirname(os.path.abspath(__file__)), "guard_list.py"), heard)
    checks.that("the listener heard no frame outside the guard's list", status == 0, (out.decode() + err).strip()[-500:])
