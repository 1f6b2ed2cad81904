#!/usr/bin/env python3
"""Kills a job that is served, again and again at random moments, while entries come in and a page follows.

   kill_served_job.py [ROUNDS [SEED]]      default: 12 rounds; 1000 for the long one

After each kill: every acknowledged entry is in the file, once; the file verifies (open or torn); the next start goes on with
it; what the page was shown is line by line what a replay of the file says."""

import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time

from served import Page, Served

PROGRAM = os.environ["SUMPLOG"]
ROUNDS = int(sys.argv[1]) if len(sys.argv) > 1 else 12
SEED = int(sys.argv[2]) if len(sys.argv) > 2 else int.from_bytes(os.urandom(2), "big")
ROUNDS_OF_A_JOB = 40  # then it is closed and another one begins: a replay of all takes longer each time
LONGEST_LIFE = 0.7    # seconds


def run(*words):
    done = subprocess.run([PROGRAM, *words], capture_output=True, check=False)
    return done.returncode, done.stdout.decode(), done.stderr.decode()


def must(condition, what):
    if not condition:
        raise SystemExit(f"seed {SEED}: {what}")


class Poster(threading.Thread):
    """Enters one entry after another until nobody answers."""

    def __init__(self, served, first, unsure):
        super().__init__(daemon=True)
        self.served, self.first, self.unsure = served, first, unsure
        self.acknowledged, self.open = [], []
        self.start()

    def run(self):
        number = 0
        todo = list(self.unsure)  # what the last life did not answer is sent again under its id
        while True:
            if not todo:
                number += 1
                todo.append(f"{self.first}-{number}")
            try:
                status, body = self.served.enter(todo[0], "note", {"text": f"note {todo[0]}"}, patience=20)
            except OSError:
                self.open = todo
                return
            must(status == 200, f"{todo[0]}: {status} {body}")
            must(json.loads(body)["id"] == todo[0], body)
            self.acknowledged.append(todo.pop(0))


class Job:
    def __init__(self, folder):
        status, out, err = run("jobs", "new", "--plate", "AB 123", "--decoder", "demo-9", "--data", folder, "--json")
        must(status == 0, err)
        self.path = json.loads(out)["file"]
        self.lines, self.acknowledged, self.unsure = {}, [], [[], []]

    def live_and_die(self, number, folder, chance):
        served = Served([PROGRAM, "demo", "--job", self.path, "--data", folder, "--listen", "127.0.0.1:0", "--json"],
                        os.path.join(folder, "err"))
        page = Page(served, self.lines)
        posters = [Poster(served, f"{number}-{which}", self.unsure[which]) for which in range(2)]
        time.sleep(chance.uniform(0, LONGEST_LIFE))
        served.end("kill")
        for thread in [page, *posters]:
            thread.join(20)
        must(not page.mistakes, page.mistakes)
        for which, poster in enumerate(posters):
            self.acknowledged += poster.acknowledged
            self.unsure[which] = poster.open

    def check(self):
        status, out, err = run("verify", "--json", self.path)
        must(status == 0, out + err)
        state = json.loads(out)["state"]
        must(state in ("open", "torn"), state)
        ids = []
        with open(self.path, "rb") as file:
            for line in file:
                if line.startswith(b"# {") and b'"item":"entry"' in line and line.endswith(b"}\n"):
                    ids.append(json.loads(line[2:])["id"])
        notes = [one for one in ids if "-" in one and not one.startswith("demo")]
        must(len(notes) == len(set(notes)), "an entry is doubled")
        must(set(self.acknowledged) <= set(notes), f"lost: {sorted(set(self.acknowledged) - set(notes))[:5]}")
        return state

    def compare(self):
        status, out, err = run("replay", "--json", self.path)
        must(status == 0, err)
        replayed = out.splitlines()
        for number, shown in self.lines.items():
            must(number <= len(replayed), f"line {number} was shown and is not in the replay of {len(replayed)} lines")
            must(replayed[number - 1] == shown, f"line {number}: shown {shown[:200]}; replayed {replayed[number - 1][:200]}")

    def close(self):
        status, out, err = run("jobs", "close", self.path, "--sign-over", "K. Example", "--json")
        must(status == 0, err)
        must(json.loads(out)["closed"], out)
        status, out, err = run("verify", "--json", self.path, "--fingerprint", json.loads(out)["fingerprint"])
        must(status == 0 and json.loads(out)["state"] == "closed", out + err)
        self.compare()


def main():
    chance = random.Random(SEED)
    torn = acknowledged = shown = 0
    with tempfile.TemporaryDirectory(prefix="sumplog-kills-") as folder:
        job = None
        for number in range(ROUNDS):
            job = job or Job(folder)
            job.live_and_die(number, folder, chance)
            torn += job.check() == "torn"
            if ROUNDS < 100 or number % 10 == 9:
                job.compare()
            if number % ROUNDS_OF_A_JOB == ROUNDS_OF_A_JOB - 1 or number == ROUNDS - 1:
                job.close()
                acknowledged += len(job.acknowledged)
                shown += len(job.lines)
                job = None
    must(acknowledged > 0 and shown > 0, "nothing was acknowledged or shown: this run shows nothing")
    print(f"seed {SEED}: {ROUNDS} kills, {torn} torn lines, {acknowledged} acknowledged entries, {shown} lines shown: "
          f"nothing lost, nothing doubled, replay says the same")


main()
