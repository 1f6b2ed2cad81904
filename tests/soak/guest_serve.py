#!/usr/bin/env python3
"""Runs in the lab: vehicle and `serve` on vcan0 for a while, pages that come and go, samples of memory and descriptors."""

import http.client
import json
import os
import re
import subprocess
import sys
import time

from process_samples import sample, verdict

SECONDS = int(sys.argv[1])
LAB = os.environ["LAB_DIR"]
PROGRAM = os.environ["SUMPLOG"]
STEP = max(2, min(60, SECONDS // 40))  # seconds between two samples
PAUSE = max(1, STEP / 12)  # between two visits of a page
KIB_ALLOWED = 1024

os.chdir(LAB)
os.makedirs("job", exist_ok=True)
vehicle = subprocess.Popen([PROGRAM, "simulate", "--interface", "vcan0", "--scenario", "scenario.toml"],
                           stdout=open("simulate.out", "wb"), stderr=subprocess.STDOUT)
serve = subprocess.Popen([PROGRAM, "serve", "--interface", "vcan0", "--decoder", "demo-9", "--data", "job", "--json"],
                         stdout=open("journal.jsonl", "wb"), stderr=open("serve.err", "wb"))


def page():
    """Looks once at everything, follows the events for a moment and goes away without a word."""
    link = http.client.HTTPConnection("127.0.0.1", 8723, timeout=20)
    link.request("GET", "/api/state")
    state = json.loads(link.getresponse().read())
    for path in ("/", "/api/terms", "/api/entries", "/api/course.svg"):
        link.request("GET", path)
        link.getresponse().read()
    entry = json.dumps({"id": f"note-{time.monotonic_ns()}", "name": "note", "fields": {"text": "still here"}})
    link.request("POST", "/api/entries", entry, {"Content-Type": "application/json"})
    answer = link.getresponse()
    answer.read()
    assert answer.status == 200, answer.status
    link.request("GET", "/api/events")
    link.getresponse().read(200)
    link.close()
    return state


limit = time.monotonic() + 30
while not re.search("page: http", open("serve.err", errors="replace").read()):
    if time.monotonic() > limit or serve.poll() is not None:
        sys.exit("serve shows no page: " + open("serve.err", errors="replace").read())
    time.sleep(0.2)

class KeptJournal:
    """serve keeps the journal's lines in memory on purpose, up to 32 MiB (src/app/journal_lines.h)."""

    LINE = 64  # bytes: std::string, its allocation, its place in the queue

    def __init__(self):
        self.file = open("journal.jsonl", "rb")
        self.bytes = 0

    def kib(self):
        for line in self.file:
            self.bytes += len(line) + self.LINE
        return self.bytes >> 10


samples, asked = [], 0
kept = KeptJournal()
began = time.monotonic()
due = began
with open("samples", "w") as file:
    while time.monotonic() < began + SECONDS:
        due += STEP
        while time.monotonic() < due - PAUSE:
            page()
            asked += 1
            time.sleep(PAUSE)
        time.sleep(max(0, due - time.monotonic()))
        if serve.poll() is not None:
            sys.exit(f"serve ended with {serve.returncode}: " + open("serve.err", errors="replace").read()[-2000:])
        samples.append((time.monotonic() - began, *sample(serve.pid), kept.kib()))
        file.write("%.0f s  %d KiB  %d descriptors  %d KiB of journal\n" % samples[-1])
        file.flush()
serve.terminate()
ended = serve.wait(30)
vehicle.terminate()
vehicle.wait(30)
lines = sum(1 for _ in open("journal.jsonl"))
wrong = verdict(samples, len(samples) // 5, KIB_ALLOWED)
fifth, last = samples[len(samples) // 5], samples[-1]
print(f"serve for {last[0]:.0f} s: {lines} lines of journal, {asked} visits of a page")
for when, kib, count, journal in (fifth, last):
    print(f"  after {when:4.0f} s: {kib} KiB, of them {journal} KiB journal; {count} descriptors")
if ended != 0:
    wrong += f"; serve ended with {ended}"
if lines < SECONDS:
    wrong += f"; only {lines} lines of journal"
if wrong:
    print(wrong)
    print(open("samples").read())
    sys.exit(1)
