#!/usr/bin/env python3
"""Times `sumplog replay` beside log2asc (can-utils), tshark and python-can on the same log, in one run.

    SUMPLOG=build/release/sumplog whole_way.py [--frames N] [--rounds K] [--write docs/performance.md]

What is measured for each program: the whole process, from start to end, with its output written to a file. The peers take turns,
and the median of the rounds counts. log2asc translates the log and looks at no content; tshark reassembles ISO-TP and dissects
OBD-II and writes four fields of each frame; python-can parses the log and gives each frame to a loop that does nothing. None of them does what
sumplog does on the way: transport, decoder, thermometer, level check and journal.
"""
import argparse
import os
import pathlib
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent
SUMPLOG = os.environ.get("SUMPLOG", "build/release/sumplog")
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"
MIB = 1024  # ru_maxrss counts in KiB

PYTHON_CAN = "import can, sys\nfor message in can.CanutilsLogReader(sys.argv[1]): pass\n"


class Taken:
    """What one run of a program took: seconds of the wall, seconds of processor, MiB of memory at most."""

    def __init__(self, command, output):
        # GNU time starts the program from a small process: what a child of ours has used already would count as its memory.
        with open(output, "wb") as out:
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            began = time.perf_counter()
            done = subprocess.run(["/usr/bin/time", "--quiet", "-f", "%M", "-o", f"{output}.time", *command],
                                  stdout=out, stderr=subprocess.PIPE, check=False)
            self.wall_s = time.perf_counter() - began
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
        if done.returncode != 0:
            sys.exit(f"{command[0]} ended with {done.returncode}: {done.stderr.decode(errors='replace')[-500:]}")
        self.cpu_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        self.mib = int(pathlib.Path(f"{output}.time").read_text(encoding="ascii")) / MIB


def commands(log, scratch):
    """Name of each program, and how it reads `log`."""
    return {
        "sumplog": [SUMPLOG, "replay", log, "--decoder", "demo-9", "--json"],
        "log2asc": ["log2asc", "-I", log, "-O", f"{scratch}/out.asc", "can0"],
        "tshark": ["tshark", "-n", "-r", log, "-o", "iso15765.can.ids:0x7df-0x7ef", "-d", "iso15765.subdissector,obd-ii",
                   "-T", "fields", "-e", "frame.time_epoch", "-e", "can.id", "-e", "obd-ii.mode",
                   "-e", "iso15765.message_type"],
        "python-can": ["/usr/bin/python3", "-c", PYTHON_CAN, log],
    }


def medians(log, names, rounds, scratch):
    """For each program: median of wall and processor time, and the most memory of all rounds."""
    taken = {name: [] for name in names}
    for _ in range(rounds):
        for name in names:
            taken[name].append(Taken(commands(log, scratch)[name], f"{scratch}/out"))
    return {name: (statistics.median(one.wall_s for one in runs), statistics.median(one.cpu_s for one in runs),
                   max(one.mib for one in runs)) for name, runs in taken.items()}


def busy_log(frames, scratch):
    path = f"{scratch}/busy-{frames}.log"
    subprocess.run([sys.executable, HERE / "busy_log.py", str(frames), path], check=True)
    return path


def table(title, frames, figures):
    own_s = figures["sumplog"][0]
    speed = " million frames/s |" if frames > 1 else ""
    rows = [f"{title}:", "", f"| program | s | s of processor |{speed} MiB at most | time, sumplog = 1 |", "|---" * (6 if speed else 5) + "|"]
    for name, (wall_s, cpu_s, mib) in figures.items():
        speed = f" {frames / wall_s / 1e6:.2f} |" if frames > 1 else ""
        rows.append(f"| {name} | {wall_s:.3f} | {cpu_s:.3f} |{speed} {mib:.1f} | {wall_s / own_s:.1f} |")
    return rows + [""]


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--frames", type=int, default=1_000_000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--write", type=pathlib.Path, help="document whose measured part is written anew")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        rows = []
        log = busy_log(options.frames, scratch)
        figures = medians(log, ["sumplog", "log2asc", "tshark", "python-can"], options.rounds, scratch)
        rows += table(f"{options.frames:,} frames", options.frames, figures)
        os.remove(log)
        many = 10 * options.frames
        log = busy_log(many, scratch)
        long_figures = medians(log, ["sumplog", "log2asc"], options.rounds, scratch)
        rows += table(f"{many:,} frames", many, long_figures)
        os.remove(log)
        start = medians(busy_log(1, scratch), ["sumplog", "log2asc", "tshark", "python-can"], max(options.rounds, 5), scratch)
        rows += table("One frame: what it takes to start", 1, start)
        begun_s = start["sumplog"][1]
        short_ns = (figures["sumplog"][1] - begun_s) / options.frames * 1e9
        long_ns = (long_figures["sumplog"][1] - begun_s) / many * 1e9
        rows.append(f"Processor time for each frame behind the start: {short_ns:.0f} ns at {options.frames:,}, {long_ns:.0f} ns at {many:,} "
                    f"(ratio {long_ns / short_ns:.2f}). Memory: {figures['sumplog'][2]:.1f} and {long_figures['sumplog'][2]:.1f} MiB.")
    text = "\n".join(rows)
    print(text)
    if options.write:
        page = options.write.read_text(encoding="utf-8")
        before, rest = page.split(BEGIN, 1)
        after = rest.split(END, 1)[1]
        machine = f"{os.cpu_count()} processors ({platform.machine()}), {platform.system()} {platform.release().split('-')[0]}"
        options.write.write_text(f"{before}{BEGIN}\n{machine}, median of {options.rounds} rounds in turns.\n\n{text}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
