#!/usr/bin/env python3
"""The program under a service manager, which this script plays: ready, alive, stopping, and silent when its loop hangs."""

import fcntl
import json
import os
import socket
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "kills"))
from served import Served  # noqa: E402

PROGRAM = os.environ["SUMPLOG"]
PATIENCE_US = 900_000  # what the manager of this test grants
LIMIT = 30  # seconds for what must happen


def must(condition, what):
    if not condition:
        raise SystemExit(f"service_on_the_program: {what}")


class Manager:
    """The receiver behind NOTIFY_SOCKET."""

    def __init__(self, folder):
        self.path = os.path.join(folder, "notify")
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(self.path)
        os.environ["NOTIFY_SOCKET"] = self.path
        os.environ["WATCHDOG_USEC"] = str(PATIENCE_US)

    def heard(self, seconds):
        """What comes within so many seconds."""
        texts = []
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            self.socket.settimeout(left)
            try:
                texts.append(self.socket.recv(4096).decode())
            except TimeoutError:
                break
        return texts

    def until(self, wanted):
        texts = []
        end = time.monotonic() + LIMIT
        while time.monotonic() < end:
            texts += self.heard(0.1)
            if any(wanted(text) for text in texts):
                return texts
        raise SystemExit(f"service_on_the_program: never came; heard only {texts}")


def a_job(manager, folder):
    served = Served([PROGRAM, "demo", "--data", folder, "--listen", "127.0.0.1:0", "--json"], os.path.join(folder, "err"))
    first = manager.until(lambda text: text == "READY=1")
    must(any(text.startswith("STATUS=job ") and text.endswith(" on can0") for text in first), first)
    must(served.state()["job"], "what says that it is ready serves its page")
    alive = manager.heard(3 * PATIENCE_US / 1e6).count("WATCHDOG=1")
    must(alive >= 3, f"alive {alive} times in three times its patience")
    must(served.end("terminate") == 0, served.err())
    must("STOPPING=1" in manager.heard(0.2), "it says that it stops")


def a_loop_that_hangs(manager, folder):
    """Nobody reads the journal, and its pipe is small: the loop stands still in write()."""
    reading, writing = os.pipe()
    fcntl.fcntl(writing, fcntl.F_SETPIPE_SZ, 4096)
    program = subprocess.Popen([PROGRAM, "demo", "--data", folder, "--listen", "off", "--json"], stdout=writing,
                               stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL)
    os.close(writing)
    manager.until(lambda text: text == "READY=1")
    end = time.monotonic() + LIMIT
    while manager.heard(2 * PATIENCE_US / 1e6):
        must(time.monotonic() < end, "it goes on saying that it is alive")
    must(program.poll() is None, "the program is there and does not move")
    while not manager.heard(0.01):  # somebody reads again
        os.read(reading, 65536)
    os.close(reading)
    program.kill()
    program.wait()


def first_steps(manager, folder):
    served = Served([PROGRAM, "demo", "--first-steps", "--data", folder, "--listen", "127.0.0.1:0"], os.path.join(folder, "err"))
    manager.until(lambda text: text.startswith("STATUS=looking at the car on can0"))
    must(manager.heard(PATIENCE_US / 1e6).count("WATCHDOG=1") >= 1, "alive while it waits for a person")
    served.end("terminate")
    must("STOPPING=1" in manager.heard(0.2), "it stops before there is a job")

    port = 0
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]
    served = Served([PROGRAM, "demo", "--first-steps", "--data", folder, "--listen", f"127.0.0.1:{port}"], os.path.join(folder, "err"))
    manager.until(lambda text: text.startswith("STATUS=looking at the car on can0"))
    end = time.monotonic() + LIMIT
    while json.loads(served.ask("GET", "/api/setup")[1]).get("stage") != "car":
        must(time.monotonic() < end, "the car is never looked at")
        time.sleep(0.1)
    must(served.ask("POST", "/api/setup", {"decoder": "demo-9", "by": "K. Example"})[0] == 200, "a choice")
    said = manager.until(lambda text: text.startswith("STATUS=job "))
    must("STOPPING=1" not in said, "from the look at the car to the job nothing stops")
    must(served.end("terminate") == 0, served.err())


def nobody_listens(folder):
    del os.environ["NOTIFY_SOCKET"]
    done = subprocess.run([PROGRAM, "demo", "--data", folder, "--listen", "off", "--for", "1"], capture_output=True, check=False,
                          timeout=LIMIT)
    must(done.returncode == 0, done.stderr)


with tempfile.TemporaryDirectory() as here:
    the_manager = Manager(here)
    a_job(the_manager, here)
    a_loop_that_hangs(the_manager, here)
    first_steps(the_manager, here)
    nobody_listens(here)
print("ready, alive, stopping, and silent when the loop hangs")
