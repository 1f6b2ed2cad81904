#!/usr/bin/env python3
"""Tries small mistakes in the core, one at a time, and counts those that the core's unit tests and goldens miss.

    check.py [--only TEXT] [--list FILE] [--jobs N]

It builds core_tests with the preset release, as tests/run.sh does. For each mistake it compiles a changed copy of one file, links it in front
of the core and runs the tests: first those of the same folder, then all others but slow ones, 60 s of processor time and 120 s at most. The sources are not
touched. Labs and hostile seeds are never asked, nor the tests that play hundreds of whole jobs or walk through each frame of a
capture. Exit status 1: fewer than 95 % are killed, the list does not fit the sources any more, or the tests fail without any mistake.
"""

import argparse
import concurrent.futures
import json
import os
import pathlib
import re
import resource
import shlex
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(os.environ.get("SOURCE") or pathlib.Path(__file__).resolve().parents[2])
LIMIT_S = 60
WANTED = 0.95
DROPPED = "{}"  # stands where a statement was; also behind an if
LONG = "VerdictProperty.*:*CaptureWalk*"  # a minute and more by themselves
# Seconds each: asked only about mistakes of their own folder.
SLOW = ("FlowProperty.*:AnyStream.*:CourseOfAWholeJob.*:WholeJob.*Replay*:WholeJob.Keeps*:WholeJobEngineOff.*:FullRate.*:CourseChart.ADay*:"
        "GuardTest.Lets*:CodeScanLive.ARecordCut*:EveryReader.*:*.NeverCrashes*:AskerTest.Keeps*:*.EverySizeFrom*:"
        "*.EveryLengthOf*:JudgeTest.*:Thermometer.StaysSound*:OtherReaders.*:DamagedParts.*:ItemText.*:JobReader.*")


class Mutation:
    def __init__(self, path, line, replacement, why):
        self.path, self.line, self.replacement, self.why = path, line, replacement, why
        self.folder = path.split("/")[0]

    def __str__(self):
        return f"{self.path}: {self.line}  ->  {self.replacement or '(dropped)'}"


def read_list(file):
    """The mutations, each checked against the sources."""
    found, wrong = [], []
    for block in file.read_text().split("\n\n"):
        lines = [line for line in block.splitlines() if line and not line.startswith("#")]
        if not lines:
            continue
        parts = {line[0]: line[2:].strip() for line in lines}
        if set(parts) - set("=-+?") or not {"=", "-", "+"} <= set(parts):
            wrong.append(f"not of the form =, -, +, ?: {lines}")
            continue
        one = Mutation(parts["="], parts["-"], parts["+"], parts.get("?"))
        path = ROOT / "src/core" / one.path
        text = path.read_text().splitlines() if path.exists() else []
        count = sum(line.strip() == one.line for line in text)
        if count != 1:
            wrong.append(f"stands {count} times, not once: {one.path}: {one.line}")
        found.append(one)
    return found, wrong


def by_turns(mutations):
    """One of each folder, then the next of each: a run that is broken off has tried all of them."""
    turns, seen = [], {}
    for one in mutations:
        seen[one.folder] = seen.get(one.folder, 0) + 1
        turns.append((seen[one.folder], one))
    return [one for _, one in sorted(turns, key=lambda turn: turn[0])]


def run(command, folder, limit=None):
    """in   limit  seconds of processor time: a busy machine changes no result
    out  exit status and the output"""
    done = subprocess.run(command, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace",
                          preexec_fn=(lambda: resource.setrlimit(resource.RLIMIT_CPU, (limit, limit))) if limit else None)
    return done.returncode, done.stdout


def suites_of(folder):
    """The suites that stand in tests/core/<folder>, as a filter."""
    found = set()
    for path in (ROOT / "tests/core" / folder).rglob("*_test.cpp"):
        found.update(re.findall(r"^TEST(?:_F|_P)?\((\w+),", path.read_text(), re.M))
    return ":".join(f"{name}.*:*/{name}.*" for name in sorted(found))


def tests(program, folder=None):
    """All tests; of a folder: its own first."""
    command = ["nice", str(program), "--gtest_brief=1", "--gtest_fail_fast"]
    own = suites_of(folder) if folder else ""
    if own:
        status, out = run([*command, f"--gtest_filter={own}:-{LONG}"], ROOT, LIMIT_S)
        if status != 0:
            return status, out
    return run([*command, f"--gtest_filter=-{LONG}:{SLOW if own else ''}:{own}"], ROOT, 2 * LIMIT_S)


class Builder:
    """Compiles one changed file of the core, and links core_tests with it in the place of the sound one."""

    def __init__(self, build):
        self.build = build
        self.compile = {entry["file"]: entry["command"] for entry in json.loads((build / "compile_commands.json").read_text())}
        _, out = run(["ninja", "-C", str(build), "-t", "commands", "core_tests"], ROOT)
        line = next(part for part in out.splitlines()[-1].split("&&") if "libsumplog_core.a" in part)
        self.link = shlex.split(line)

    def program(self, mutation, folder):
        """out  the program, or nothing and what the compiler says"""
        source = ROOT / "src/core" / mutation.path
        lines = source.read_text().splitlines(keepends=True)
        at = next(i for i, line in enumerate(lines) if line.strip() == mutation.line)
        lines[at] = (mutation.replacement or DROPPED) + "\n"
        changed, compiled, program = (folder / name for name in ("changed.cpp", "changed.o", "core_tests"))
        changed.write_text("".join(lines))
        command = shlex.split(self.compile[str(source)])
        command[command.index("-o") + 1] = str(compiled)
        command[command.index("-c") + 1] = str(changed)
        status, out = run(["nice", *command, "-O0", "-g0", "-w"], self.build)
        if status != 0:
            return None, next((line for line in out.splitlines() if "error" in line), "")
        # The core is an archive: what the changed file has is not taken from it again.
        core = self.link.index("libsumplog_core.a")
        command = [*self.link[:core], str(compiled), *self.link[core:], "-fuse-ld=gold", "-Wl,--strip-all"]
        command[command.index("-o") + 1] = str(program)
        status, out = run(["nice", *command], self.build)
        return (program, "") if status == 0 else (None, out[-400:])


def try_one(mutation, builder):
    """out  killed, survived, the same or did not compile; and what killed it"""
    if mutation.why:
        return "the same", mutation.why
    with tempfile.TemporaryDirectory() as folder:
        program, problem = builder.program(mutation, pathlib.Path(folder))
        if not program:
            return "did not compile", problem
        status, out = tests(program, mutation.folder)
    if status == 0:
        return "survived", ""
    failed = next((line for line in out.splitlines() if "FAILED" in line), "")
    return "killed", failed.replace("[  FAILED  ]", "").strip() or f"it ended with {status}"


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", default="", help="mistakes whose file or line contains this text")
    parser.add_argument("--list", type=pathlib.Path, default=ROOT / "tests/mutation/mutations.txt")
    parser.add_argument("--jobs", type=int, default=2, help="mistakes at the same time, and processes of the first build")
    options = parser.parse_args()
    mutations, wrong = read_list(options.list)
    if wrong:
        print("mutations.txt does not fit the sources any more:\n  " + "\n  ".join(wrong), file=sys.stderr)
        return 1
    mutations = by_turns([one for one in mutations if options.only in f"{one.path} {one.line}"])

    build = ROOT / "build/release"
    for command in (["cmake", "--preset", "release"],
                    ["nice", "cmake", "--build", str(build), "--target", "core_tests", f"-j{options.jobs}"]):
        status, out = run(command, ROOT)
        if status != 0:
            print(out[-4000:], file=sys.stderr)
            return 1
    with concurrent.futures.ThreadPoolExecutor(options.jobs) as pool:
        sound = pool.submit(tests, build / "tests/core_tests")
        builder = Builder(build)
        results = zip(mutations, pool.map(lambda one: try_one(one, builder), mutations))
        judged = judge(results)
    status, out = sound.result()
    if status != 0:
        print(f"the tests fail without any mistake ({status}):\n{out[-4000:]}", file=sys.stderr)
        return 1
    return judged


def judge(results):
    counts = {}
    for one, (result, by) in results:
        counts.setdefault(one.folder, {}).setdefault(result, 0)
        counts[one.folder][result] += 1
        print(f"{result:15} {one}" + (f"\n{'':15}   {by}" if by else ""), flush=True)

    columns = ["killed", "survived", "the same", "did not compile"]
    print(f"\n{'folder':14}" + "".join(f"{name:>17}" for name in columns))
    for folder, found in counts.items():
        print(f"{folder:14}" + "".join(f"{found.get(name, 0):17}" for name in columns))
    total = {name: sum(found.get(name, 0) for found in counts.values()) for name in columns}
    print(f"{'all':14}" + "".join(f"{total[name]:17}" for name in columns))
    judged = total["killed"] + total["survived"]
    share = total["killed"] / judged if judged else 0
    print(f"{100 * share:.1f} % of {judged} killed")
    return 0 if share >= WANTED and not total["did not compile"] else 1


if __name__ == "__main__":
    sys.exit(main())
