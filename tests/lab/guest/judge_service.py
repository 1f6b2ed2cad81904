#!/usr/bin/env python3
"""Runs beside a systemd that was booted in an empty Debian: starts the package's unit and uses, freezes, kills, breaks and stops it.

    judge_service.py PORT VIN

Prints one line a check; exit status 1 when one fails. `systemctl` talks to the service manager of the root folder, DEBIAN names it here."""

import http.client
import json
import os
import signal
import subprocess
import sys
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), ".."))
from job_checks import Checks  # noqa: E402

PORT, VIN = int(sys.argv[1]), sys.argv[2]
DEBIAN = os.environ["DEBIAN"]
UNIT = "sumplog@vcan0"
CAP_NET_ADMIN = 1 << 12  # linux/capability.h
PATIENCE_S = 120         # a guest on a busy machine
checks = Checks()


def in_debian(*command):
    """It is the root folder of the service manager, seen from beside it."""
    return subprocess.run(["chroot", DEBIAN, *command], capture_output=True, text=True, check=False, env={**os.environ, "SYSTEMD_IGNORE_CHROOT": "1"})


def systemctl(*words):
    done = in_debian("systemctl", *words)
    return done.returncode, (done.stdout + done.stderr).strip()


def system_journal():
    """What an administrator reads of the unit."""
    return in_debian("journalctl", "-u", UNIT, "-o", "cat").stdout


def of_the_unit(name):
    return systemctl("show", "-P", name, UNIT)[1]


def ask(method, path, body=None):
    link = http.client.HTTPConnection("127.0.0.1", PORT, timeout=20)
    try:
        link.request(method, path, json.dumps(body) if body is not None else None,
                     {"Content-Type": "application/json"} if body is not None else {})
        answer = link.getresponse()
        return answer.status, answer.read().decode()
    finally:
        link.close()


def until(holds):
    """out  what it gave at last; nothing when the time is up"""
    limit = time.monotonic() + PATIENCE_S
    while time.monotonic() < limit:
        try:
            if got := holds():
                return got
        except (OSError, ValueError, http.client.HTTPException):
            pass
        time.sleep(0.3)
    return None


def stage():
    return json.loads(ask("GET", "/api/setup")[1]).get("stage")


def fluid_readings():
    return '"fluid_temperature"' in ask("GET", "/api/state")[1]


def jobs():
    folder = os.path.join(DEBIAN, "var/lib/sumplog")
    return sorted(name for name in os.listdir(folder) if name.startswith("2") and name.endswith(".log"))


def rights():
    pid = of_the_unit("MainPID")
    with open(f"/proc/{pid}/status", encoding="ascii") as file:
        said = dict(line.rstrip("\n").split(":\t", 1) for line in file if ":\t" in line)
    return int(pid), said


# It says that it is ready, as the user and with the rights that the unit gives.
status, said = systemctl("start", UNIT)
checks.that("the unit starts, which is when it says that it is ready", status == 0, said)
checks.that("… and is active", of_the_unit("ActiveState") == "active", of_the_unit("ActiveState"))
pid, said = rights()
with open(os.path.join(DEBIAN, "etc/passwd"), encoding="utf-8") as file:
    user = next(line.split(":")[2] for line in file if line.startswith("sumplog:"))
checks.that("it runs as the user sumplog", set(said["Uid"].split()) == {user}, said["Uid"])
for name in ("CapEff", "CapPrm", "CapBnd", "CapAmb"):
    checks.that(f"{name} is the right to set links, and no other", int(said[name], 16) == CAP_NET_ADMIN, said[name])
checks.that("it can gain none", said["NoNewPrivs"] == "1")
checks.that("its system calls are filtered", said["Seccomp"] == "2", said["Seccomp"])

# A job, as a person at the page begins it.
checks.that("the page looks at the car", until(lambda: stage() == "car") is not None, of_the_unit("StatusText"))
checks.that("… and reads its number", until(lambda: VIN in ask("GET", "/api/state")[1]) is not None)
status, answer = ask("POST", "/api/setup", {"decoder": "demo-9", "by": "K. Example"})
checks.that("a person chooses decoder and window", status == 200, "" if status == 200 else answer)
checks.that("the fluid temperature comes", until(fluid_readings) is not None)
checks.that("the unit says what it is at", ".log" in of_the_unit("StatusText"), of_the_unit("StatusText"))
folder = os.stat(os.path.join(DEBIAN, "var/lib/sumplog"))
job = os.stat(os.path.join(DEBIAN, "var/lib/sumplog", jobs()[0]))
checks.that("the system's journal has where the page is", "page: http://" in system_journal(), system_journal()[-300:])
checks.that("nobody else reads the job", job.st_mode & 0o137 == 0 and folder.st_mode & 0o027 == 0, oct(job.st_mode))

# A loop that hangs is silent: systemd ends it and starts it again, and it goes on with its job.
os.kill(pid, signal.SIGSTOP)
began = time.monotonic()
checks.that("a frozen program is started again", until(lambda: of_the_unit("NRestarts") == "1") is not None, of_the_unit("NRestarts"))
print(f"     after {time.monotonic() - began:.0f} s; the watchdog has {of_the_unit('WatchdogUSec')}")
checks.that("… because of the watchdog", "watchdog" in system_journal().lower())
checks.that("… and goes on with its job", until(lambda: ask("GET", "/api/setup")[0] == 404 and fluid_readings()) is not None and len(jobs()) == 1, jobs())
os.kill(rights()[0], signal.SIGKILL)
checks.that("a killed one too", until(lambda: of_the_unit("NRestarts") == "2" and ask("GET", "/api/setup")[0] == 404 and fluid_readings()) is not None
            and len(jobs()) == 1, jobs())

status, said = systemctl("stop", UNIT)
checks.that("it stops when it is told to", status == 0 and of_the_unit("Result") == "success", f"{said} {of_the_unit('Result')}")
done = in_debian("sumplog", "verify", "/var/lib/sumplog/" + jobs()[0])
checks.that("the job file holds what came, and is not closed", done.returncode in (0, 1) and "open" in done.stdout, done.stdout + done.stderr)
replayed = in_debian("sumplog", "replay", "/var/lib/sumplog/" + jobs()[0], "--json")
checks.that("… and replays", replayed.returncode == 0 and '"signal":"fluid_temperature"' in replayed.stdout, replayed.stderr[:300])

# Wrong settings do not mend themselves.
settings = os.path.join(DEBIAN, "etc/sumplog/service.toml")
with open(settings, "a", encoding="utf-8") as file:
    file.write('no_such_key = "1"\n')
status, said = systemctl("start", UNIT)
checks.that("wrong settings end it", status != 0 and of_the_unit("ExecMainStatus") == "2", of_the_unit("ExecMainStatus"))
time.sleep(8)  # twice RestartSec and more
checks.that("… says why", "no_such_key" in system_journal(), system_journal()[-300:])
checks.that("… for good", of_the_unit("ActiveState") == "failed", of_the_unit("ActiveState"))
checks.end()
