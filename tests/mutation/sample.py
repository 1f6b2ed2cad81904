#!/usr/bin/env python3
"""Picks small mistakes by chance, in the form of mutations.txt, for `check.py --list FILE`.

    sample.py COUNT SEED [FOLDER]...       of these folders of the core, all of them otherwise; as many in each line of code

A comparison, a sign, a constant, a condition, a statement left out. Nobody chose them, so their share that the tests miss says more than that of
the kept list; those that change nothing are among them.
"""

import pathlib
import random
import re
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
SWAPS = [(" <= ", " < "), (" < ", " <= "), (" >= ", " > "), (" > ", " >= "), (" == ", " != "), (" != ", " == "), (" && ", " || "), (" || ", " && "),
         (" + ", " - "), (" - ", " + "), (" * ", " / "), (" / ", " * "), (" += ", " -= "), (" -= ", " += "), ("true;", "false;"), ("false;", "true;"),
         ("(!", "("), ("++", "--"), ("std::min", "std::max"), ("std::max", "std::min")]
NUMBER = re.compile(r"(?<![\w.'#])(\d+)(?![\w.'])")
STATEMENT = re.compile(r"(?!(return|break|continue|using|const|constexpr|static|auto|delete|throw|case|else|namespace|struct)\b)[a-z_][\w.\[\]\->:]*(\(.*\)| [+-]?= .*);$")
NO_CODE = re.compile(r"^(//|#|static_assert|using |namespace|struct|class|\}|template|case .*:$|default:|\[\[)")


def changes_of(line, before):
    """Every small mistake of one line."""
    code = line.split("  //")[0]
    if '"' in code or "'" in code or NO_CODE.match(code):
        return
    for old, new in SWAPS:
        for at in (found.start() for found in re.finditer(re.escape(old), code)):
            if "<" in old + new and "template" in code:
                continue
            yield code[:at] + new + code[at + len(old):] + line[len(code):]
    for number in NUMBER.finditer(code):
        yield code[:number.start()] + str(int(number.group()) + 1) + code[number.end():] + line[len(code):]
    # A whole statement, not the rest of one.
    if STATEMENT.match(code) and re.search(r"[;{}:]$|^$", before.split("  //")[0]):
        yield ""


def mutations_of(path):
    lines = [line.strip() for line in path.read_text().splitlines()]
    for at, line in enumerate(lines):
        if lines.count(line) == 1:
            found = list(changes_of(line, lines[at - 1] if at else ""))
            if found:
                yield line, found


def main():
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    count, chance = int(sys.argv[1]), random.Random(int(sys.argv[2]))
    core = ROOT / "src/core"
    lines = [(path.relative_to(core), line, found)
             for folder in sys.argv[3:] or ["."] for path in sorted((core / folder).rglob("*.cpp")) for line, found in mutations_of(path)]
    for path, line, found in chance.sample(lines, min(count, len(lines))):
        print(f"= {path}\n- {line}\n+ {chance.choice(found)}\n")


if __name__ == "__main__":
    main()
