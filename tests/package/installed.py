"""The program as `cmake --install` puts it somewhere, for the tests of what is around it."""

import os
import re
import subprocess
import sys
import tempfile


def must(condition, what):
    if not condition:
        raise SystemExit(f"{os.path.basename(sys.argv[0])}: {what}")


def run(words, **more):
    """Standard output; ends the test when the program fails."""
    done = subprocess.run(words, capture_output=True, text=True, check=False, **more)
    must(done.returncode == 0, f"{' '.join(words)} ended with {done.returncode}:\n{done.stdout}{done.stderr}")
    return done.stdout


class Installed:
    """A folder like /usr/local with everything in it, gone afterwards."""

    def __init__(self, build):
        self.folder = tempfile.TemporaryDirectory()
        self.prefix = self.folder.name
        run(["cmake", "--install", build, "--prefix", self.prefix])

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.folder.cleanup()

    def path(self, *parts):
        return os.path.join(self.prefix, *parts)


def commands(program, path=()):
    """Each command of the program with its options, as --help tells them: {("jobs", "list"): {"--json", …}}."""
    text = run([program, *path, "--help"])
    options = set()
    below = []
    part = ""
    for line in text.splitlines():
        if re.match(r"^[A-Z]\w+:$", line):
            part = line
        elif part == "Options:" and (found := re.match(r"^  (-\S+)", line)):
            options |= set(found.group(1).split(","))
        elif part == "Subcommands:" and (found := re.match(r"^  ([a-z]+)", line)):
            below.append(found.group(1))
    found = {tuple(path): options}
    for name in below:
        found.update(commands(program, (*path, name)))
    return found
