"""What sumplog reads from a capture, and which signal its generic decoder gives to each parameter."""

import collections
import contextlib
import json
import os
import subprocess
import sys
import tempfile
import tomllib

Reading = collections.namedtuple("Reading", "t ecu signal value")
SOURCE = os.environ.get("SOURCE") or sys.exit("SOURCE must name the folder with the sources")
PROGRAM = os.environ.get("SUMPLOG") or sys.exit("SUMPLOG must name the program")
GENERIC = "obd-generic"


def decoder_of(capture):
    """The decoder that about.toml beside a capture names: an id, or a folder as its whole path; nothing without about.toml."""
    folder = os.path.dirname(os.path.abspath(capture))
    about = os.path.join(folder, "about.toml")
    if not os.path.exists(about):
        return None
    with open(about, "rb") as file:
        decoder = tomllib.load(file)["decoder"]
    return os.path.normpath(os.path.join(folder, decoder)) if "/" in decoder else decoder


def signals(decoder):
    """The [[signal]] tables of one decoder, named by its id or its folder."""
    with open(os.path.join(SOURCE, "decoders", decoder, "signals.toml"), "rb") as file:
        return tomllib.load(file).get("signal", [])


def parameter_signals():
    """PID -> its signals in the generic decoder."""
    found = collections.defaultdict(list)
    for signal in signals(GENERIC):
        if "pid" in signal:
            found[signal["pid"]].append(signal)
    return found


def tolerance(signal):
    """Half of the last digit that is printed, and a little for the other side's own rounding."""
    return 0.5 * 10 ** -signal.get("decimals", 0) + 1e-9


def journal(capture, decoder=None):
    """The journal that `sumplog replay` gives for a capture, line by line."""
    command = [PROGRAM, "replay", capture, "--json"]
    if decoder:
        command += ["--decoder", decoder]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        sys.exit(f"{' '.join(command)} ended with {done.returncode}:\n{done.stderr}")
    return [json.loads(line) for line in done.stdout.splitlines()]


def readings(lines):
    """Readings that have a value, in journal order."""
    return [Reading(line["t"], line["ecu"], line["signal"], line["value"])
            for line in lines if line["kind"] == "reading" and "value" in line]


def vehicles(lines):
    """ecu -> everything that was learned of it, over all its lines."""
    known = collections.defaultdict(dict)
    for line in lines:
        if line["kind"] == "vehicle":
            known[line.get("ecu", "")].update({key: value for key, value in line.items() if key not in ("t", "kind", "bus")})
    return known


@contextlib.contextmanager
def frames_only(capture):
    """A copy with the candump lines alone: the other programs do not skip a job file's comment lines."""
    with tempfile.TemporaryDirectory() as folder:
        copy = os.path.join(folder, "-".join(os.path.normpath(capture).split(os.sep)[-3:]))
        with open(capture, encoding="utf-8") as all_lines, open(copy, "w", encoding="ascii") as frames:
            frames.writelines(line for line in all_lines if line.startswith("("))
        yield copy


class Differences:
    """Collects what two programs see differently; ends the test with 1 when there is anything."""

    def __init__(self, other):
        self.other = other
        self.count = 0
        self.compared = 0

    def same(self, where, ours, theirs, allowed=0.0):
        self.compared += 1
        close = (abs(ours - theirs) <= allowed if isinstance(ours, (int, float)) and isinstance(theirs, (int, float))
                 else ours == theirs)
        if not close:
            self.count += 1
            print(f"{where}: sumplog {ours!r}, {self.other} {theirs!r}")

    def end(self, least):
        """`least`: how many comparisons there must have been, so that an empty run is no success."""
        print(f"{self.compared} values compared with {self.other}, {self.count} differ")
        if self.compared < least:
            sys.exit(f"at least {least} comparisons were expected")
        sys.exit(1 if self.count else 0)
