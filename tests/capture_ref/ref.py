"""Frames for the comparisons, written and read here without any code of the project."""

import collections
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile

SKIP = 77  # CTest: an optional program is not installed
FRAMES_OF = sys.argv[1]
START_US = 1_700_000_000_000_000  # a whole second: log2asc.c writes the start without its fraction

# error: `id` holds the class bits; remote: `data` is empty and `length` is what was asked for.
Frame = collections.namedtuple("Frame", "us bus id extended kind fd brs esi length data")


def need(*programs):
    for program in programs:
        if not shutil.which(program):
            print(f"{program} is not installed")
            sys.exit(SKIP)


def make_frames(seed, count, buses=("can0", "can1"), errors=True, fd=True):
    """Every kind of frame, times that rise, a gap now and then."""
    rng = random.Random(seed)
    us, frames = START_US, []
    for n in range(count):
        bus, extended = rng.choice(buses), rng.random() < 0.5
        identifier = rng.randrange(1 << 29 if extended else 1 << 11)
        kind = rng.choices(["data", "fd", "remote", "error"], [5, 3 if fd else 0, 1, 1 if errors else 0])[0]
        length = rng.choice([0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64] if kind == "fd" else range(9))
        if kind == "error":
            extended, identifier, length = False, rng.randrange(1, 1 << 9), 8  # linux/can/error.h: classes 1…100
        data = b"" if kind == "remote" else bytes(rng.randrange(256) for _ in range(length))
        is_fd = kind == "fd"
        frames.append(Frame(us, bus, identifier, extended, "data" if is_fd else kind, is_fd,
                            is_fd and rng.random() < 0.5, is_fd and rng.random() < 0.5, length, data))
        us += rng.choice([1, 37, 999, 10_000, 1_500_001])
    return frames


def candump_line(frame):
    """can-utils lib.c, sprint_canframe."""
    identifier = f"{frame.id | 0x20000000:08X}" if frame.kind == "error" else \
        f"{frame.id:08X}" if frame.extended else f"{frame.id:03X}"
    if frame.kind == "remote":
        payload = "R" + (str(frame.length) if frame.length else "")
    else:
        payload = (f"#{frame.brs + 2 * frame.esi:X}" if frame.fd else "") + frame.data.hex().upper()
    return f"({frame.us // 10**6:010}.{frame.us % 10**6:06}) {frame.bus} {identifier}#{payload}"


def candump_log(frames):
    return "".join(candump_line(frame) + "\n" for frame in frames).encode()


def parse_candump(log):
    frames = []
    for line in log.decode().splitlines():
        match = re.fullmatch(r"\((\d+)\.(\d{6})\) (\S+) ([0-9A-F]+)#(.*?)( [RT])?", line)
        assert match, line
        us, bus, identifier, payload = int(match[1]) * 10**6 + int(match[2]), match[3], int(match[4], 16), match[5]
        error = len(match[4]) == 8 and identifier >= 0x20000000
        extended = len(match[4]) == 8 and not error
        kind, fd, flags = "error" if error else "data", payload.startswith("#"), 0
        if fd:
            flags, payload = int(payload[1], 16), payload[2:]
        if payload.startswith("R"):
            kind, length, data = "remote", int(payload[1:] or 0), b""
        else:
            data = bytes.fromhex(payload)
            length = len(data)
        frames.append(Frame(us, bus, identifier & 0x1FFFFFFF, extended, kind, fd, bool(flags & 1), bool(flags & 2),
                            length, data))
    return frames


def run(*command, status=0):
    """Standard output of a program that ends with a status; the local time zone is UTC, as ASC dates name none."""
    done = subprocess.run(command, capture_output=True, env={**os.environ, "TZ": "UTC"})
    if done.returncode != status:
        sys.exit(f"{' '.join(command)}: exit status {done.returncode}\n{done.stderr.decode(errors='replace')}")
    return done.stdout


def ours(capture, as_form="candump", ending=b"clean"):
    """What our reader makes of a capture, in a form of our writers; a line that cannot be read fails the test."""
    done = subprocess.run([FRAMES_OF, "--as", as_form], input=capture, capture_output=True)
    if done.returncode != 0 or not done.stderr.startswith(ending):
        sys.exit(f"our reader: {done.stderr.decode(errors='replace')}")
    return done.stdout


def same(name, got, expected):
    """Compares two lists and shows the first difference."""
    for n, (one, other) in enumerate(zip(got, expected)):
        if one != other:
            sys.exit(f"{name}: item {n + 1} differs\n  got      {one}\n  expected {other}")
    if len(got) != len(expected):
        sys.exit(f"{name}: {len(got)} items instead of {len(expected)}")
    assert expected, name
    print(f"{name}: {len(expected)} equal")


class Folder(tempfile.TemporaryDirectory):
    def file(self, name, content=None):
        path = os.path.join(self.name, name)
        if content is not None:
            with open(path, "wb") as file:
                file.write(content)
        return path


def content(path):
    with open(path, "rb") as file:
        return file.read()
