#!/usr/bin/env python3
"""Tries small mistakes in the core, one at a time, and counts those that the core's unit tests and goldens miss.

    check.py [--only TEXT] [--jobs N] [--list FILE] [--work FOLDER]

It works in a copy of the tree, builds core_tests there with the preset dev and runs them: first the tests of the same folder, then
all others, 60 s of processor time and 120 s at most. Labs and hostile seeds are never asked, nor the tests that play hundreds of
whole jobs or walk through each frame of a capture. Exit status 1: fewer than 95 % are killed, the list does not fit the sources any more, or the tests
fail without any mistake.
"""

import argparse
import os
import pathlib
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(os.environ.get("SOURCE") or pathlib.Path(__file__).resolve().parents[2])
LIMIT_S = 60
WANTED = 0.95
DROPPED = "{}"  # stands where a statement was; also behind an if
LONG = "VerdictProperty.*:*CaptureWalk*"  # a minute and more by themselves


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


def mirror(source, copy):
    """Makes a copy the same again; files that are the same already keep their time, so that nothing is built in vain."""
    if source.is_file():
        if not copy.exists() or source.read_bytes() != copy.read_bytes():
            shutil.copy2(source, copy)
        return
    copy.mkdir(parents=True, exist_ok=True)
    wanted = {one.name for one in source.iterdir() if one.name not in ("node_modules", "__pycache__")}
    for one in copy.iterdir():
        if one.name not in wanted:
            shutil.rmtree(one) if one.is_dir() else one.unlink()
    for name in wanted:
        mirror(source / name, copy / name)


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


def tests(tree, build, folder=None):
    """All tests; of a folder: its own first."""
    program = ["nice", str(build / "tests/core_tests"), "--gtest_brief=1", "--gtest_fail_fast"]
    own = suites_of(folder) if folder else ""
    if own:
        status, out = run([*program, f"--gtest_filter={own}:-{LONG}"], tree, LIMIT_S)
        if status != 0:
            return status, out
    return run([*program, f"--gtest_filter=-{LONG}:{own}"], tree, 2 * LIMIT_S)


def try_one(mutation, tree, build, jobs):
    """out  killed, survived or did not compile; and what killed it"""
    path = tree / "src/core" / mutation.path
    before = path.read_text()
    lines = before.splitlines(keepends=True)
    at = next(i for i, line in enumerate(lines) if line.strip() == mutation.line)
    indent = lines[at][:len(lines[at]) - len(lines[at].lstrip())]
    lines[at] = indent + (mutation.replacement or DROPPED) + "\n"
    path.write_text("".join(lines))
    try:
        status, out = run(["nice", "cmake", "--build", str(build), "--target", "core_tests", f"-j{jobs}"], tree)
        if status != 0:
            return "did not compile", next((line for line in out.splitlines() if "error" in line), "")
        status, out = tests(tree, build, mutation.folder)
        if status == 0:
            return "survived", ""
        failed = next((line for line in out.splitlines() if "FAILED" in line), "")
        return "killed", failed.replace("[  FAILED  ]", "").strip() or f"it ended with {status}"
    finally:
        path.write_text(before)


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="", help="paths that contain this text")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--list", type=pathlib.Path, default=ROOT / "tests/mutation/mutations.txt")
    parser.add_argument("--work", type=pathlib.Path, help="keep the copy and its build here, for the next time")
    options = parser.parse_args()
    mutations, wrong = read_list(options.list)
    if wrong:
        print("mutations.txt does not fit the sources any more:\n  " + "\n  ".join(wrong), file=sys.stderr)
        return 1
    mutations = by_turns([one for one in mutations if options.only in one.path])

    work = options.work or pathlib.Path(tempfile.mkdtemp())
    try:
        tree = work / "tree"
        tree.mkdir(parents=True, exist_ok=True)
        for name in ("CMakeLists.txt", "CMakePresets.json", "src", "tests", "decoders", "captures", "docs"):
            mirror(ROOT / name, tree / name)
        build = tree / "build/dev"
        os.environ.update(CCACHE_BASEDIR=str(tree), CCACHE_NOHASHDIR="1")
        # Linked sixty times and more: without what only a debugger reads.
        for command in (["cmake", "--preset", "dev", "-DCMAKE_EXE_LINKER_FLAGS=-fuse-ld=gold -Wl,--strip-all"],
                        ["nice", "cmake", "--build", str(build), "--target", "core_tests", f"-j{options.jobs}"]):
            status, out = run(command, tree)
            if status != 0:
                print(out[-4000:], file=sys.stderr)
                return 1
        started = time.monotonic()
        status, out = tests(tree, build)
        if status != 0:
            print(f"the tests fail without any mistake:\n{out[-4000:]}", file=sys.stderr)
            return 1
        print(f"{len(mutations)} mistakes; the tests take {time.monotonic() - started:.0f} s", flush=True)
        return judge(mutations, tree, build, options.jobs)
    finally:
        if not options.work:
            shutil.rmtree(work, ignore_errors=True)


def judge(mutations, tree, build, jobs):
    counts = {}
    for one in mutations:
        result, by = try_one(one, tree, build, jobs)
        if result == "survived" and one.why:
            result = "the same"
        counts.setdefault(one.folder, {}).setdefault(result, 0)
        counts[one.folder][result] += 1
        print(f"{result:15} {one}" + (f"\n{'':15}   by {by}" if by else f"\n{'':15}   {one.why}" if one.why else ""), flush=True)

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
