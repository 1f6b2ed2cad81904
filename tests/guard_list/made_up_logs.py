#!/usr/bin/env python3
"""guard_list.py passes made-up logs of a tester that only reads, and finds each thing that does not."""

import contextlib
import io
import os
import subprocess
import sys
import tempfile

LAB = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "lab")
sys.path.insert(0, LAB)
import guard_list  # noqa: E402

NAMED = ["--unit", "702:70A", "--unit", "6F1/18:618/F1"]
FIRST_FRAME = "7E9#101462F190313233"
RTS = "1CECF903#10140003FFDAFE00"

READING = {
    "one PID": ["7DF#02010CCCCCCCCCCC", "7E8#04410C1AF8000000"],
    "six PIDs": ["7E0#0701040C0D0F1105"],
    "codes": ["7DF#0103CCCCCCCCCCCC", "7DF#0107CCCCCCCCCCCC", "7DF#010ACCCCCCCCCCCC", "7E1#031902FFCCCCCCCC"],
    "VIN with flow control": ["7DF#020902CCCCCCCCCC", "7E8#1014490201313233", "7E0#300000CCCCCCCCCC",
                              "7E8#2134353637383930"],
    "29 bit": ["18DB33F1#020902CCCCCCCCCC", "18DAF110#1014490201313233", "18DA10F1#300000CCCCCCCCCC"],
    "mixed": ["18CE18F1#050322F190CCCCCC", "18CEF118#05101462F1903132", "18CE18F1#05300000CCCCCCCC"],
    "named": ["702#0322F190CCCCCCCC", "70A#101462F190313233", "702#320000CCCCCCCCCC"],
    "named with address": ["6F1#180322F190CCCCCC", "618#F1101462F1903132", "6F1#18300000CCCCCCCC"],
    "blocks": ["7E1#0322F190CCCCCCCC", "7E9#102862F190313233", "7E1#300200CCCCCCCCCC", "7E9#2101020304050607",
               "7E9#2201020304050607", "7E1#300000CCCCCCCCCC"],
    "pending": ["7E1#0322F190CCCCCCCC", "7E9#037F227800000000", "+4.9", FIRST_FRAME, "7E1#300000CCCCCCCCCC"],
    "group request": ["18EAFFF9#CAFE00"],
    "transport session": ["18EA03F9#DAFE00", RTS, "18EC03F9#110301FFFFDAFE00", "1CEBF903#0101020304050607",
                          "18EC03F9#13140003FFDAFE00"],
    "address claim": ["18EEFFF9#0100E0FF00810000"],
    "comments and error frames": ["# a comment", "20000004#0008000000000000", "7DF#0103CCCCCCCCCCCC"],
}
NOT_READING = {
    "clears codes": ["7DF#0104CCCCCCCCCCCC"],
    "clears codes (14229)": ["7E1#0414FFFFFFCCCCCC"],
    "session": ["7E1#021003CCCCCCCCCC"],
    "tester present": ["7DF#023E80CCCCCCCCCC"],
    "write": ["7E1#052EF19001CCCCCC"],
    "routine": ["7E1#0431010203CCCCCC"],
    "write through a named unit": ["702#042E010203CCCCCC"],
    "write beside an address byte": ["6F1#18042E010203CCCC"],
    "an address that nobody named": ["6F1#190322F190CCCCCC"],
    "wrong length": ["7E1#0222F1CCCCCCCCCC"],
    "sub-function": ["7E1#021903CCCCCCCCCC"],
    "suppressed answer": ["7E1#031982FFCCCCCCCC"],
    "hidden bytes": ["7E1#0322F1902EF19001"],
    "short frame": ["7E1#0322F190"],
    "first frame": ["7E1#1014223132333435"],
    "consecutive frame": ["7E1#2131323334353637"],
    "remote frame": ["7E1#R"],
    "FD frame": ["7E1##00322F190CCCCCCCC"],
    "functional 29 bit, other group": ["18DB10F1#02010CCCCCCCCCCC"],
    "flow control without a request": [FIRST_FRAME, "7E1#300000CCCCCCCCCC"],
    "flow control to the wrong unit": ["7E1#0322F190CCCCCCCC", FIRST_FRAME, "7E0#300000CCCCCCCCCC"],
    "flow control twice": ["7E1#0322F190CCCCCCCC", FIRST_FRAME, "7E1#300000CCCCCCCCCC", "7E1#300000CCCCCCCCCC"],
    "flow control for another service": ["7E1#020902CCCCCCCCCC", FIRST_FRAME, "7E1#300000CCCCCCCCCC"],
    "flow control after the request is closed": ["7E1#0322F190CCCCCCCC", "+1.2", FIRST_FRAME, "7E1#300000CCCCCCCCCC"],
    "flow control after N_Bs": ["7E1#0322F190CCCCCCCC", FIRST_FRAME, "+1.1", "7E1#300000CCCCCCCCCC"],
    "wait frame": ["7E1#0322F190CCCCCCCC", FIRST_FRAME, "7E1#310000CCCCCCCCCC"],
    "J1939 clears codes": ["18EA03F9#CCFE00"],
    "J1939 clears active codes": ["18EAFFF9#D3FE00"],
    "J1939 data": ["18FEF8F9#0102030405060708"],
    "J1939 transport without a request": [RTS, "18EC03F9#110301FFFFDAFE00"],
    "J1939 begins a session": ["18EA03F9#DAFE00", RTS, "18EC03F9#10140003FFDAFE00"],
    "J1939 holds a session": ["18EA03F9#DAFE00", RTS, "18EC03F9#110001FFFFDAFE00"],
    "nothing of a tester": ["7E8#04410C1AF8000000"],
}
UNREADABLE = {"another format": ["can0  7DF   [8]  02 01 0C"], "half a byte": ["7DF#123"]}


def log_text(frames):
    lines, time = [], 1700000000.0
    for frame in frames:
        if frame.startswith("+"):
            time += float(frame)
        elif frame.startswith("#") or frame.startswith("can0"):
            lines.append(frame)
        else:
            time += 0.002
            lines.append(f"({time:.6f}) can0 {frame}")
    return "\n".join(lines) + "\n"


def main():
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        for expected, logs in ((0, READING), (1, NOT_READING), (2, UNREADABLE)):
            for name, frames in logs.items():
                path = os.path.join(folder, "made_up.log")
                with open(path, "w", encoding="ascii") as log:
                    log.write(log_text(frames))
                said = io.StringIO()
                with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
                    status = guard_list.main([*NAMED, path])
                if status != expected:
                    wrong += 1
                    print(f"'{name}': ended with {status}, expected {expected}\n{said.getvalue()}")
        missing = subprocess.run([sys.executable, os.path.join(LAB, "guard_list.py"), os.path.join(folder, "missing.log")],
                                 capture_output=True)
        if missing.returncode != 2:
            wrong += 1
            print(f"a missing log ended with {missing.returncode}, expected 2")
    print(f"{len(READING) + len(NOT_READING) + len(UNREADABLE) + 1} logs, {wrong} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
