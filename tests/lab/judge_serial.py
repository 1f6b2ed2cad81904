#!/usr/bin/env python3
"""Judges what serve_on_serial_adapter.sh left:   judge_serial.py FOLDER"""

import os
import re
import sys

from job_checks import Checks, job_file, lines_of, only_listed_requests, read, run

SOON_S = 20       # from the start to the first temperature: generous, a busy machine boots its guest slowly
BACK_S = 20       # from bus-off, and from plugging in again, to the next temperature
SLACK_S = 1.5     # between the adapter's own log and the ends of a gap

os.chdir(sys.argv[1])
checks = Checks()
live = read("journal.jsonl")
lines = lines_of(live)
for name in ("serve.err", "strange.err", "adapter.err"):
    said = read(name).decode(errors="replace").strip()
    if said:
        print(f"{name}:\n{said[-1500:]}")


def notes(name):
    return [(float(at), what) for at, what in re.findall(r"^(\d+\.\d+) (.*)$", read(name).decode(), re.M)]


strange = [what for _, what in notes("strange.log")]
checks.that("a bus of another rate was listened to at 500 and 250 kbit/s", {"driver S6", "driver S5", "driver L"} <= set(strange), strange[:8])
checks.that("… and never spoken to", not [one for one in strange if one.startswith(("wrong", "refused")) or one == "driver O"])
checks.that("… and the person was told", b"not at 500 or 250 kbit/s" in read("strange.err"))

adapter = notes("adapter.log")
following = [what for _, what in adapter].index("order next")  # from here on it is another program's
later = [what for _, what in adapter[following:]]
adapter = adapter[:following]
words = [what for _, what in adapter]
rates = [one for one in words if one.startswith("driver S")]
checks.that("the rates were tried by listening, 500 first", words[:5].index("driver S6") < words.index("driver L") < words.index("driver S5"), rates)
checks.that("nothing was sent at a wrong rate", not [one for one in words if one.startswith(("wrong", "refused"))])
checks.that("after plugging in again the known rate was used at once", words[words.index("order plug"):].count("driver S5") == 1
            and "driver S6" not in words[words.index("order plug"):] and "driver L" not in words[words.index("order plug"):])

started = float(read("started"))
fluid = [line["t"] for line in lines if line["kind"] == "reading" and line["signal"] == "fluid_temperature" and "value" in line]
checks.that("first temperature soon", bool(fluid) and fluid[0] - started < SOON_S, f"{fluid[0] - started:.2f} s after the start, rate unknown" if fluid else "none")


def when(order):
    return next(at for at, what in adapter if what == f"order {order}")


gaps = [line for line in lines if line["kind"] == "gap"]
for order, back, why in (("bus-off", "bus-off", "adapter is bus-off"), ("unplug", "plug", "interface")):
    at = when(order)
    after = next((t for t in fluid if t > when(back)), None)
    checks.that(f"{order}: the job goes on by itself", after is not None and after - when(back) < BACK_S,
                f"next temperature after {after - when(back):.2f} s" if after else "none")
    held = [gap for gap in gaps if abs(gap["from_t"] - at) < SLACK_S and after is not None and abs(gap["to_t"] - after) < SLACK_S]
    checks.that("… its gap has the right ends and names the reason", len(held) == 1 and why in held[0]["why"], gaps)
    if not held:
        continue
    first, last = held[0]["from_t"], held[0]["to_t"]
    # Between the loss and the return every state that was said is unknown, and the last one before the return as well.
    said = [line for line in lines if line["kind"] == "window" and line["t"] <= last]
    before = [line for line in said if line["t"] < last]
    checks.that("… the window was unknown in it", bool(before) and before[-1]["to"] == "unknown", before[-1:])
    checks_said = [line for line in lines if line["kind"] == "check" and first < line["t"] < last]
    checks.that("… and so was the check", bool(checks_said) and all(line["state"] == "unknown" for line in checks_said))
checks.that("error-passive alone interrupts nothing", not [gap for gap in gaps if abs(gap["from_t"] - when("passive")) < SLACK_S])

checks.that("a link that was bus-off before the start", b"BUS-OFF" in read("bus-off-before"), read("bus-off-before").decode())
checks.that("… is taken up again", "driver O" in later[later.index("order bus-off"):], read("off.err").decode().strip()[-600:])

job = job_file("job")
status, out, err = run(os.environ["SUMPLOG"], "verify", job)
checks.that("the job file verifies", status == 0, (out.decode() + err).strip()[:200])
status, replayed, err = run(os.environ["SUMPLOG"], "replay", job, "--json")
checks.that("its journal equals the live one byte for byte", status == 0 and replayed == live, f"{len(replayed)} and {len(live)} bytes")
only_listed_requests(checks, "heard.log")
checks.end()
