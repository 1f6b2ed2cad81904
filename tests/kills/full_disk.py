#!/usr/bin/env python3
"""A job on a small disk that runs full, and on one that is taken away, while it is served.     full_disk.py

Needs root: it mounts a tmpfs that only this process sees. Ends with 77 where that is not allowed."""

import json
import os
import subprocess
import sys
import tempfile
import time

from served import PATIENCE, Page, Served

PROGRAM = os.environ["SUMPLOG"]
SIZE = "1m"

if "SUMPLOG_OWN_MOUNTS" not in os.environ:
    allowed = subprocess.run(["unshare", "--mount", "true"], capture_output=True, check=False)
    if allowed.returncode != 0:
        print("skipped: this user may not mount a small disk:", allowed.stderr.decode().strip())
        sys.exit(77)
    # The program refuses settings that it does not know; this one is not for it.
    sys.exit(subprocess.run(["unshare", "--mount", sys.executable, "-B", *sys.argv],
                            env={**os.environ, "SUMPLOG_OWN_MOUNTS": "1"}, check=False).returncode)
del os.environ["SUMPLOG_OWN_MOUNTS"]


def must(condition, what):
    if not condition:
        raise SystemExit(what)


def run(*words):
    done = subprocess.run([PROGRAM, *words], capture_output=True, check=False)
    must(done.returncode == 0, f"{words}: {done.stderr.decode()}")
    return done.stdout.decode()


def begin(disk, logs):
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", disk], check=True)
    path = json.loads(run("jobs", "new", "--decoder", "demo-9", "--data", disk, "--json"))["file"]
    served = Served([PROGRAM, "demo", "--job", path, "--listen", "127.0.0.1:0", "--json"], os.path.join(logs, "err"))
    lines = {}
    page = Page(served, lines)
    served.wait(lambda state: "thermal" in state["newest"], "a temperature")
    return path, served, lines, page


def thermal(lines):
    return sum('"kind":"thermal"' in line for line in list(lines.values()))


def wait_until(wanted, what):
    limit = time.monotonic() + PATIENCE
    while time.monotonic() < limit:
        if wanted():
            return
        time.sleep(0.02)
    raise SystemExit(f"never came: {what}")


def same_as_shown(path, lines):
    replayed = run("replay", "--json", path).splitlines()
    for number, shown in lines.items():
        must(replayed[number - 1] == shown, f"line {number}: shown {shown}; replayed {replayed[number - 1]}")


def full(disk, logs):
    path, served, lines, page = begin(disk, logs)
    status, _ = served.enter("before", "plug_out")
    must(status == 200, "an entry before the disk was full")
    filler = open(os.path.join(disk, "filler"), "wb", buffering=0)
    try:
        while True:
            filler.write(b"f" * 4096)
    except OSError:
        pass
    filled = time.monotonic()
    state = served.wait(lambda state: not state["recording"]["ok"], "the page says that nothing is recorded")
    said_after = time.monotonic() - filled
    must("No space left on device" in state["recording"]["why"], state["recording"])
    must("free some space" in served.err(), served.err())
    before = thermal(lines)
    wait_until(lambda: thermal(lines) >= before + 3, "three more temperatures on the full disk")
    asked = time.monotonic()
    status, body = served.enter("while-full", "plug_in")
    must(status == 503 and "not recorded yet" in body, f"{status} {body}")
    must(time.monotonic() - asked < 3, "the refusal took long")
    wait_until(lambda: any('"id":"while-full"' in line for line in list(lines.values())), "the entry takes effect all the same")
    status, body = served.enter("while-full", "plug_in")
    must(status == 503, f"the same again is answered the same: {status} {body}")
    must(served.state()["recording"]["kept_in_memory"] > 0, "what is kept is told")
    status, body = served.ask("POST", "/api/jobs", {"action": "close", "sign_over": "K. Example"})
    must(status == 503 and "not closed" in body, f"{status} {body}")
    must(served.state()["recording"]["kept_in_memory"] > 0, "the job goes on, with what it kept")
    filler.close()
    os.remove(os.path.join(disk, "filler"))
    served.wait(lambda state: state["recording"]["ok"], "recording goes on")
    status, body = served.enter("while-full", "plug_in")
    must(status == 200, f"{status} {body}")
    wait_until(lambda: any("the disk failed for" in line for line in list(lines.values())), "the hole is an item")
    must(served.end("terminate") == 0, served.err())
    page.join(PATIENCE)
    must(not page.mistakes, page.mistakes)
    content = open(path, encoding="utf-8").read()
    must(content.count('"id":"while-full"') == 1, "the entry is in the file, once")
    must("signed_over" not in content and "job closed" not in served.err(), "a job that was not closed is not called closed")
    must("verify" and json.loads(run("verify", "--json", path))["state"] == "open", "the file verifies")
    same_as_shown(path, lines)
    print(f"full disk: said after {said_after:.1f} s, the temperature went on, {len(lines)} lines shown and replayed the same")


def killed_while_full(disk, logs):
    path, served, lines, page = begin(disk, logs)
    status, _ = served.enter("safe", "plug_out")
    must(status == 200, "an entry before the disk was full")
    with open(os.path.join(disk, "filler"), "wb", buffering=0) as filler:
        try:
            while True:
                filler.write(b"f" * 4096)
        except OSError:
            pass
    served.wait(lambda state: not state["recording"]["ok"], "the page says that nothing is recorded")
    status, _ = served.enter("not-safe", "plug_in")
    must(status == 503, "nothing is acknowledged on a full disk")
    served.end("kill")
    page.join(PATIENCE)
    os.remove(os.path.join(disk, "filler"))
    again = Served([PROGRAM, "demo", "--job", path, "--listen", "127.0.0.1:0", "--json"], os.path.join(logs, "err2"))
    status, _ = again.enter("not-safe", "plug_in")
    must(status == 200, "what was not acknowledged is taken when it is sent again")
    must(again.end("terminate") == 0, again.err())
    content = open(path, encoding="utf-8").read()
    must('"id":"safe"' in content and content.count('"id":"not-safe"') == 1, "both are there, once")
    print("killed while the disk was full: what was acknowledged is there, the job goes on")


def vanished(disk, logs):
    path, served, lines, page = begin(disk, logs)
    must(served.enter("before", "plug_out")[0] == 200, "an entry before")
    subprocess.run(["umount", "--lazy", disk], check=True)
    must(not os.path.exists(path), "the disk is gone")
    limit = time.monotonic() + PATIENCE
    status = 0
    while status != 200 and time.monotonic() < limit:  # "not yet" until a copy is in place
        status, body = served.enter("after", "plug_in")
        time.sleep(0.1)
    must(status == 200, f"{status} {body}")
    content = open(path, encoding="utf-8").read()
    must('"id":"before"' in content and '"id":"after"' in content, "what was acknowledged lies under the job's name")
    must(served.end("terminate") == 0, served.err())
    page.join(PATIENCE)
    same_as_shown(path, lines)
    print("vanished disk: a whole copy lies under the job's name, and nothing acknowledged is lost")


for play in (full, killed_while_full, vanished):
    with tempfile.TemporaryDirectory(prefix="sumplog-disk-") as folder:
        small, log_folder = os.path.join(folder, "disk"), os.path.join(folder, "logs")
        os.mkdir(small)
        os.mkdir(log_folder)
        play(small, log_folder)
        subprocess.run(["umount", "--lazy", small], check=False, capture_output=True)
