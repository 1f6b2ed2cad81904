#!/usr/bin/env python3
"""Judges what isotp_tools.sh left:   judge_isotp_tools.py FOLDER MESSAGES_OF

The same traffic, taken together by can-utils' isotprecv (the kernel), by isotpdump and by our transport.
"""

import os
import re
import subprocess
import sys

from job_checks import Checks, read

folder, messages_of = sys.argv[1], os.path.abspath(sys.argv[2])
os.chdir(folder)
checks = Checks()


def plain(text):
    return re.sub(r"[^0-9A-F]", "", text.upper())


sent = [plain(line) for line in read("sent").decode().splitlines()]
received = [plain(line) for line in read("received").decode().splitlines() if plain(line)]
with open("heard.log", "rb") as log:
    ours = [line.split()[2] for line in subprocess.run([messages_of], stdin=log, capture_output=True, text=True, check=True).stdout.splitlines()
            if line.split()[1] == "7E9"]

dumped = []
for line in read("dump").decode(errors="replace").splitlines():
    if " 7E9 " not in line:
        continue
    part = re.search(r"\[(SF|FF|CF)\]\s+(?:ln|sn):\s*(\w+)\s+data:((?: [0-9A-F]{2})+)", line)
    if not part:
        continue
    kind, number, data = part.group(1), part.group(2), plain(part.group(3))
    if kind == "CF":
        dumped[-1] = (dumped[-1][0], dumped[-1][1] + data)
    else:
        dumped.append((int(number), data))
dumped = [data[:2 * size] for size, data in dumped]

checks.that("payloads were sent", len(sent) == 33, len(sent))
checks.that("isotprecv has them", received == sent, len(received))
checks.that("isotpdump shows the same", dumped == sent, len(dumped))
checks.that("our transport has the same", ours == sent, len(ours))
checks.end()
