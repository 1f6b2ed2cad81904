"""The project's own files, and how a house check reports what it finds."""

import fnmatch
import os
import re
import subprocess
import sys

ROOT = os.environ.get("SOURCE") or sys.exit("SOURCE must name the folder with the sources")


def files(*patterns):
    """Paths relative to ROOT that match one of the patterns: tracked ones and new ones that git does not ignore."""
    if os.path.exists(os.path.join(ROOT, ".git")):
        listed = subprocess.run(
            ["git", "-c", "safe.directory=*", "-C", ROOT, "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
            check=True, capture_output=True).stdout.decode().split("\0")
    else:  # an unpacked archive: everything but dot folders and build folders
        listed = []
        for folder, folders, names in os.walk(ROOT):
            folders[:] = [name for name in folders if not re.match(r"build(-|$)|\.git$|__pycache__$", name)]
            listed += [os.path.relpath(os.path.join(folder, name), ROOT) for name in names]
    return sorted({path for path in listed
                   if any(fnmatch.fnmatch(path, pattern) for pattern in patterns)
                   and os.path.isfile(os.path.join(ROOT, path))})


def text(path):
    """The file's text; nothing when it is not UTF-8 text."""
    with open(os.path.join(ROOT, path), "rb") as file:
        data = file.read()
    if b"\0" in data:
        return None
    try:
        return data.decode()
    except UnicodeDecodeError:
        return None


def code(path):
    """C++ text without comments and without what stands in strings; lines keep their numbers."""
    pattern = r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])\''

    def blank(match):
        found = match.group(0)
        if found.startswith("/"):
            return re.sub(r"[^\n]", " ", found)
        return found[0] + found[-1]

    # An include's file name looks like a string and must stay.
    kept = re.sub(r'(?m)^([ \t]*#[ \t]*include[ \t]*)"([^"\n]*)"', r"\1<\2>", text(path) or "")
    return re.sub(pattern, blank, kept, flags=re.S)


class Report:
    """Collects findings; ends the check with 1 when there is one."""

    def __init__(self):
        self.findings = 0

    def add(self, path, line, what):
        self.findings += 1
        print(f"{path}:{line}: {what}" if line else f"{path}: {what}")

    def end(self, good):
        if self.findings:
            sys.exit(1)
        print(good)
