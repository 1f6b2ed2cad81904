#!/usr/bin/env python3
"""A job of a whole day in virtual time: memory after an hour and after a day must be the same.

    virtual_day.py [HOURS [FOLDER]]      SUMPLOG names the program

The vehicle is driven, stands, is read, loses its adapter; a person enters something every ten minutes. The live job writes its file,
then replay reads it: the same journal, and again flat memory.
"""

import hashlib
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import threading
import time

from process_samples import sample

PROGRAM = os.environ.get("SUMPLOG") or sys.exit("SUMPLOG must name the program")
HOURS = int(sys.argv[1]) if len(sys.argv) > 1 else 24
START = 1700000000
KIB_ALLOWED = 1024  # what an allocator may still move after the first hour


def scenario():
    """Half an hour of work, over and over: stopped and cooling, idling through the window, driven."""
    text = f'''format = 1
title = "A day of work"
seed = 3
start_s = {START}
lasts_s = {HOURS * 3600}
entry = [
'''
    for at in range(60, HOURS * 3600, 600):
        text += f'  {{ at_s = {at}, name = "note", fields = {{ text = "still here" }} }},\n'
    text += ''']
[vehicle]
ambient_c = 20
fluid_c = 30
case_c = 30
coolant_c = 60
engine = "running"

[[ecu]]
id = "engine"
request = 0x7E0
response = 0x7E8
pids = [0x01, 0x04, 0x05, 0x0C, 0x0D, 0x0F, 0x1F, 0x42, 0x46]
tells_vin = true

[[ecu]]
id = "transmission"
request = 0x7E1
response = 0x7E9
pids = [0x01, 0x0D]

[[ecu.did]]
did = 0x1A05
signal = "fluid_temperature"
offset = -40
no_value = 0xFF

[[ecu.did]]
did = 0x1A06
signal = "selector_position"
codes = [0, 1, 2, 3]
'''
    for at in range(0, HOURS * 3600, 1800):
        for after, what in ((300, 'what = "vehicle_speed"\nkm_h = 60'), (900, 'what = "vehicle_speed"\nkm_h = 0'),
                            (1000, 'what = "sensor_dead"'), (1060, 'what = "sensor_works"'), (1100, 'what = "link_down"'),
                            (1110, 'what = "link_up"'), (1200, 'what = "engine_off"'), (1700, 'what = "engine_on"')):
            text += f"\n[[event]]\nat_s = {at + after}\n{what}\n"
    return text


class Run:
    """A run of the program whose journal is read as it comes, and whose memory is looked at each virtual quarter of an hour."""

    def __init__(self, words, name):
        self.name = name
        self.samples = []  # virtual hours, KiB, descriptors
        self.lines = 0
        self.hash = hashlib.sha256()
        self.started = time.monotonic()
        process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, bufsize=1 << 20)
        errors = []
        reader = threading.Thread(target=lambda: errors.append(process.stderr.read()))
        reader.start()
        quarter = 0
        for line in process.stdout:
            self.lines += 1
            self.hash.update(line)
            found = re.match(rb'\{"t":(\d+)', line)
            hours = (int(found.group(1)) - START) / 3600 if found else 0
            if hours * 4 >= quarter + 1:
                quarter = int(hours * 4)
                try:
                    self.samples.append((hours, *sample(process.pid)))
                except OSError:
                    pass  # it has ended; what it wrote is still being read
        self.status = process.wait()
        reader.join()
        self.seconds = time.monotonic() - self.started
        if self.status != 0:
            sys.exit(f"{name} ended with {self.status}: {errors[0].decode()[-500:]}")

    def judge(self):
        at = {hour: kib for hour, kib, _ in reversed(self.samples)}
        first = max(kib for hour, kib in at.items() if hour <= 1.3)
        last = max(kib for hour, kib in at.items() if hour > self.samples[-1][0] - 1)
        print(f"{self.name}: {self.lines} lines of journal in {self.seconds:.0f} s; memory {first} KiB after one hour, {last} KiB after "
              f"{self.samples[-1][0]:.1f} hours; at most {max(at.values())} KiB")
        if last > first + KIB_ALLOWED:
            for hour, kib, count in self.samples:
                print(f"  {hour:5.2f} h  {kib} KiB  {count} descriptors")
            return f"{self.name}: memory grows from {first} to {last} KiB"
        return ""


with tempfile.TemporaryDirectory() as scratch:
    folder = pathlib.Path(sys.argv[2] if len(sys.argv) > 2 else scratch)
    plan, job = folder / "day.toml", folder / "day.log"
    plan.write_text(scenario())
    job.unlink(missing_ok=True)
    live = Run([PROGRAM, "simulate", "--scenario", plan, "--job", job, "--json"], "live")
    replay = Run([PROGRAM, "replay", job, "--json"], "replay")
    wrong = [one for one in (live.judge(), replay.judge()) if one]
    print(f"job file: {job.stat().st_size >> 20} MiB")
    if live.hash.digest() != replay.hash.digest():
        wrong.append("replay gives another journal than the live job")
    sys.exit("\n".join(wrong) or 0)
