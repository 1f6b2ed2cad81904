#!/usr/bin/env python3
"""`sumplog watch` beside a running `sumplog demo`: in a terminal, in a pipe, and when the program that it follows is killed and comes again."""

import os
import pty
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "kills"))
from served import Served  # noqa: E402

PROGRAM = os.environ["SUMPLOG"]
LOST_WITHIN = 3.0  # seconds
PATIENCE = 40


def must(condition, what):
    if not condition:
        raise SystemExit(what)


class Watched:
    """What a program writes, with the moment at which it came."""

    def __init__(self, words, terminal, environment=None):
        self.pieces = []
        environment = {**os.environ, **(environment or {})}
        words = [*words, "--for", str(3 * PATIENCE)]  # also when this test fails
        if terminal:
            ours, theirs = pty.openpty()
            self.process = subprocess.Popen(words, stdout=theirs, stdin=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment)
            os.close(theirs)
        else:
            self.process = subprocess.Popen(words, stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment)
            ours = self.process.stdout.fileno()
        threading.Thread(target=self.follow, args=(ours,), daemon=True).start()

    def follow(self, ours):
        try:
            while piece := os.read(ours, 65536):
                self.pieces.append((time.monotonic(), piece.decode(errors="replace")))
        except OSError:
            pass

    def text(self, since=0.0):
        return "".join(piece for at, piece in list(self.pieces) if at >= since)

    def wait(self, pattern, since=0.0, patience=PATIENCE):
        limit = time.monotonic() + patience
        while time.monotonic() < limit:
            if re.search(pattern, self.text(since)):
                return
            time.sleep(0.02)
        raise SystemExit(f"no '{pattern}' within {patience} s in: {self.text(since)[-1500:]!r}")


def start(folder, job):
    return Served([PROGRAM, "demo", "--job", job, "--listen", "127.0.0.1:0"], os.path.join(folder, "err"))


def main():
    with tempfile.TemporaryDirectory() as folder:
        out = subprocess.run([PROGRAM, "jobs", "new", "--decoder", "demo-9", "--data", folder], capture_output=True, check=True, text=True).stdout
        job = out.strip().split(": ", 1)[1]
        served = start(folder, job)
        screen = Watched([PROGRAM, "watch", job], terminal=True)
        plain = Watched([PROGRAM, "watch", job], terminal=True, environment={"NO_COLOR": "1"})
        american = Watched([PROGRAM, "watch", job, "--fahrenheit"], terminal=True)
        pipe = Watched([PROGRAM, "watch", "--data", folder], terminal=False)
        screen.wait(r"\d\d\.\d °C below; check .* s old")
        served.enter("e-1", "note", {"text": "of a person"})
        for one in (screen, plain, pipe):
            one.wait("entry: note: of a person")
        american.wait(r"\d\d\.\d °F below; check .*°F/min; .* s old")
        must("°C" not in american.text(), f"°C where °F was asked for: {american.text()[-500:]!r}")
        must("°C below" not in pipe.text(), "a pipe gets events alone")
        for row in re.split(r"[\r\n]+", re.sub(r"\x1b\[[0-9;]*[A-Za-z]", "", screen.text())):
            must(len(row) <= 80, f"longer than 80 columns: {row!r}")
        must(not re.search(r"\x1b\[[0-9;]*m", plain.text()), "NO_COLOR is not respected")

        served.process.send_signal(signal.SIGSTOP)  # it hangs: nothing is closed, nothing comes
        stopped = time.monotonic()
        time.sleep(LOST_WITHIN)
        must("no live reading" in screen.text(stopped), f"an old number is shown: {screen.text(stopped)!r}")
        served.process.send_signal(signal.SIGCONT)
        screen.wait(r"°C below", time.monotonic())

        killed = time.monotonic()
        served.process.kill()
        served.process.wait()
        screen.wait("no live reading", killed, LOST_WITHIN)
        pipe.wait("does not answer", killed)
        time.sleep(1.5)
        since = time.monotonic()
        must("°C below" not in screen.text(since - 0.4), "an old number is shown")
        served = start(folder, job)
        for one in (screen, pipe):
            one.wait("connected again", since)
        screen.wait(r"°C below", since)
        served.enter("e-2", "note", {"text": "after the restart"})
        for one in (screen, pipe):
            one.wait("after the restart", since)

        status, answer = served.ask("POST", "/api/jobs", {"action": "close", "sign_over": "T. Example"})
        must(status == 200, answer)
        for one in (screen, plain, american, pipe):
            one.wait("the job is closed")
            must(one.process.wait(PATIENCE) == 0, "watch ends when the job is closed")
        nobody = subprocess.run([PROGRAM, "watch", "--data", folder], capture_output=True, check=False, text=True)
        must(nobody.returncode == 2 and "no job is running" in nobody.stderr, nobody.stderr)
        print("watch: terminal, pipe, NO_COLOR, hang, kill and restart, close")


main()
