#!/usr/bin/env python3
"""Writes made-up jobs: sealed job files as the program writes them, with intake, fault codes, volumes and a level check.

Nothing in them is real. The seals are computed here, not by the program: what `verify` says of them is a check from outside.
Usage: synthetic_jobs.py FOLDER FIRST COUNT      (job number FIRST and those after it)
"""

import hashlib
import json
import os
import subprocess
import sys
import tempfile
from datetime import datetime, timezone

START = 1_600_000_000  # s; one job an hour from here on
LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"
FLUIDS = ("invented ATF 6", "invented ATF 9", "invented CVT fluid")


def plate(number):
    return f"{LETTERS[number % 23]}{LETTERS[number // 23 % 23]}-{LETTERS[number // 529 % 23]} {number % 10000:04d}"


def vin(number):
    return f"0TESTCAR7FAKE{number % 10000:04d}"[:17]


def fluid(number):
    return FLUIDS[number % len(FLUIDS)]


def code(number):
    return f"P07{number % 90 + 10}"


def checked(number):
    """Two of three jobs have a level check."""
    return number % 3 != 0


class JobText:
    def __init__(self):
        self.text = bytearray()
        self.hash = hashlib.sha256()
        self.unsealed = False
        self.last = None

    def line(self, text):
        added = text.encode() + b"\n"
        self.text += added
        self.hash.update(added)

    def seal(self):
        if self.unsealed:
            self.line('# {"t":%s,"item":"seal","bytes":%d,"sha256":"%s"}' %
                      (self.last, len(self.text), self.hash.hexdigest()))
            self.unsealed = False

    def item(self, micros, lines):
        t = f"{micros // 1000000}.{micros % 1000000:06d}"
        if self.last is not None and self.last.split(".")[0] != t.split(".")[0]:
            self.seal()
        for one in lines(t):
            self.line(one)
        self.last, self.unsealed = t, True


def template(program):
    """The opening of a real job: settings and decoder texts, whose time and id are exchanged."""
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([program, "jobs", "new", "--decoder", "demo-9", "--data", folder], check=True, stdout=subprocess.DEVNULL)
        name = next(one for one in os.listdir(folder) if one.endswith(".log"))
        with open(os.path.join(folder, name), encoding="utf-8") as file:
            lines = [one for one in file.read().splitlines() if '"item":"seal"' not in one]
    settings = json.loads(lines[1][2:])
    return lines[1:], f"{settings['t']:.6f}", settings["job"]


def frame(identifier, data):
    return lambda t: [f"({t}) can0 {identifier}#{data}"]


def entry(number, name, **fields):
    return lambda t: ['# {"t":%s,"item":"entry","id":"%s-%d","name":"%s","fields":%s}' %
                      (t, name, number, name, json.dumps(fields, ensure_ascii=False, separators=(",", ":")))]


def job_id(number):
    return hashlib.sha256(f"made-up job {number}".encode()).hexdigest()[:32]


def job_bytes(number, opening):
    header, old_time, old_job = opening
    job = JobText()
    now = (START + 3600 * number) * 1000000
    t = f"{now // 1000000}.{now % 1000000:06d}"
    job.line("# sumplog-job 1")
    for one in header:
        job.line(one.replace(old_job, job_id(number)).replace(old_time, t))
    job.last, job.unsealed = t, True

    def put(wait_ms, lines):
        nonlocal now
        now += wait_ms * 1000
        job.item(now, lines)

    put(200, entry(1, "intake", plate=plate(number), vin=vin(number), odometer_km=1000 + number, technician="N. N.",
                   transmission="converter", unit="demo-9", fluid=fluid(number), batch=f"B{number % 7}"))
    hexed = vin(number).encode().hex().upper()
    put(100, frame("7DF", "020902CCCCCCCCCC"))
    put(10, frame("7E8", "1014490201" + hexed[:6]))
    put(1, frame("7E0", "300000CCCCCCCCCC"))
    put(1, frame("7E8", "21" + hexed[6:20]))
    put(1, frame("7E8", "22" + hexed[20:34]))
    put(500, lambda t: ['# {"t":%s,"item":"scan","scan":"before","begun":true}' % t])
    put(100, frame("7E1", "0103CCCCCCCCCCCC"))
    put(10, frame("7E9", f"044301{int(code(number)[1:], 16):04X}CCCCCC"))
    put(500, lambda t: ['# {"t":%s,"item":"scan","scan":"before","begun":false}' % t])
    put(1000, entry(2, "stage_begun", stage="drain and parts"))
    put(1000, entry(3, "fluid_out", litres=round(3 + number % 30 / 10, 1), temp_c=30, part="drain"))
    put(1000, entry(4, "fluid_in", litres=4.0, temp_c=20, part="refill", fluid=fluid(number)))
    for second in range(190):
        if checked(number) and second == 150:
            put(1, entry(5, "plug_out"))
        if checked(number) and second == 165:
            put(1, entry(6, "level_seen", flow="drip"))
            put(1, entry(7, "plug_in"))
        put(900, frame("7E1", "03221A05CCCCCCCC"))
        put(10, frame("7E9", f"04621A05{30 + second // 20 + 40:02X}AAAAAA"))
    put(1000, lambda t: ['# {"t":%s,"item":"end"}' % t])
    job.seal()
    return bytes(job.text)


def name_of(number):
    begun = datetime.fromtimestamp(START + 3600 * number, timezone.utc)
    return begun.strftime("%Y%m%d-%H%M%S-") + job_id(number)[:8] + ".log"


def write_jobs(folder, first, count, program):
    os.makedirs(folder, exist_ok=True)
    opening = template(program)
    total = 0
    for number in range(first, first + count):
        content = job_bytes(number, opening)
        total += len(content)
        with open(os.path.join(folder, name_of(number)), "wb") as file:
            file.write(content)
    return total


if __name__ == "__main__":
    if len(sys.argv) != 4:
        sys.exit(__doc__)
    print(write_jobs(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), os.environ["SUMPLOG"]), "bytes")
