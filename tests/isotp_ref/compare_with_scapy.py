#!/usr/bin/python3
"""Our ISO 15765-2 transport beside that of scapy (Debian python3-scapy), on the same frames.

    compare_with_scapy.py MESSAGES_OF [CAPTURE …]

Made-up traffic: scapy cuts messages of up to eight units into frames, the frames of all units are shuffled together
(each unit's own order kept), and both read them back. 11 and 29 bit, with and without an address byte. Then the captures:
both must read the same messages, unit by unit, from those without a loss.

scapy's message builder guesses extended addressing unless it is told (seen in 2.5.0); here it is told. It does not read
CAN FD frames above 8 bytes from a log: captures that have them are left out, by name.
Exit status 77: scapy is not installed.
"""

import collections
import logging
import random
import re
import subprocess
import sys

logging.getLogger("scapy").setLevel(logging.ERROR)
try:
    from scapy.contrib.isotp import ISOTP, ISOTPMessageBuilder
    from scapy.layers.can import CAN
except ImportError:
    print("python3-scapy is not installed")
    sys.exit(77)

LINE = re.compile(r"\((\d+\.\d+)\) (\S+) ([0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})#([0-9A-Fa-f]*)\s*$")
PADDING = b"\xCC"
failed = 0


def ours(program, log, options=()):
    """Messages by unit, and the lines about losses."""
    run = subprocess.run([program, *options], input=log, capture_output=True, text=True, timeout=120)
    if run.returncode != 0:
        sys.exit(f"messages_of ended with {run.returncode}: {run.stderr}")
    messages = collections.defaultdict(list)
    for line in run.stdout.splitlines():
        _, unit, payload = line.split(" ")
        messages[unit].append(payload)
    return dict(messages), [one for one in run.stderr.splitlines() if one.startswith("loss")]


def scapys(frames, extended):
    """The same from scapy: one builder for all frames, which may interleave."""
    builder = ISOTPMessageBuilder(use_ext_address=extended)
    messages = collections.defaultdict(list)
    for frame in frames:
        builder.feed(frame)
        while len(builder):
            message = builder.pop()
            unit = f"{message.rx_id:08X}" if message.rx_id > 0x7FF else f"{message.rx_id:03X}"
            if extended:
                unit += f"/{message.rx_ext_address:02X}"
            messages[unit].append(message.data.hex().upper())
    return dict(messages)


def check(what, good, detail=""):
    global failed
    if not good:
        failed += 1
        print(f"DIFFERENT: {what} {detail}")


def difference(a, b):
    for unit in sorted(set(a) | set(b)):
        if a.get(unit) != b.get(unit):
            return f"{unit}: {a.get(unit, [])[:3]} | {b.get(unit, [])[:3]}"
    return ""


def made_up(program, seed, units, extended, pad):
    dice = random.Random(seed)
    sent = collections.defaultdict(list)
    queues = []
    for identifier, address in units:
        frames = []
        for _ in range(12):
            longest = dice.choice([6, 7, 20, 62, 255, 600, 4095])
            payload = bytes(dice.randrange(256) for _ in range(dice.randint(1, longest)))
            name = f"{identifier:08X}" if identifier > 0x7FF else f"{identifier:03X}"
            if extended:
                name += f"/{address:02X}"
            sent[name].append(payload.hex().upper())
            frames += ISOTP(payload, rx_id=identifier, rx_ext_address=address).fragment()
        queues.append(frames)
    lines, order, number = [], [], 0
    while any(queues):
        frame = dice.choice([one for one in queues if one]).pop(0)
        data = bytes(frame.data)
        if pad:
            data = data.ljust(8, PADDING)
            frame.data = data
        identifier = f"{frame.identifier:08X}" if frame.identifier > 0x7FF else f"{frame.identifier:03X}"
        number += 1
        lines.append(f"({1700000000 + number * 0.0002:.6f}) can0 {identifier}#{data.hex().upper()}")
        order.append(CAN(bytes(frame)))
    options = ("--extended", "6F1", "612") if extended else ()
    own, losses = ours(program, "\n".join(lines) + "\n", options)
    other = scapys(order, extended)
    what = f"seed {seed}, {len(units)} units, {number} frames"
    check(what + ": ours and what was sent", own == sent, difference(own, sent))
    check(what + ": scapy's and what was sent", other == sent, difference(other, sent))
    check(what + ": losses", not losses, "; ".join(losses[:3]))
    return number


def capture(program, path):
    with open(path, encoding="utf-8") as file:
        log = [line for line in file if not line.startswith("#")]
    frames = []
    for line in log:
        match = LINE.match(line)
        if not match:
            return f"{path}: left out, it has lines that scapy does not read: {line.strip()}"
        identifier = int(match[3], 16)
        if len(match[3]) == 3 and not 0x7DF <= identifier <= 0x7EF:
            continue
        if len(match[3]) == 8 and identifier >> 16 not in (0x18DA, 0x18DB):
            continue
        flags = "extended" if len(match[3]) == 8 else 0
        frames.append(CAN(identifier=identifier, flags=flags, data=bytes.fromhex(match[4])))
    own, losses = ours(program, "".join(log))
    if losses:
        return f"{path}: left out, it has losses ({losses[0]})"
    other = scapys(frames, False)
    check(path, own == other, difference(own, other))
    return f"{path}: {sum(map(len, own.values()))} messages of {len(own)} identifiers"


def main():
    program, captures = sys.argv[1], sys.argv[2:]
    standard = [(0x7E8 + unit, None) for unit in range(8)]
    fixed = [(0x18DAF100 | unit, None) for unit in (0x10, 0x18, 0x28, 0x33, 0x40, 0x58, 0x60, 0xB0)]
    addressed = [(0x612, 0xF1), (0x612, 0xF2), (0x6F1, 0x12), (0x6F1, 0x18)]
    frames = 0
    for seed in range(1, 4):
        frames += made_up(program, seed, standard, False, seed % 2 == 0)
        frames += made_up(program, 100 + seed, fixed, False, seed % 2 == 0)
        frames += made_up(program, 200 + seed, standard[:2] + fixed[:2], False, seed % 2 == 0)
        frames += made_up(program, 300 + seed, addressed, True, seed % 2 == 0)
    print(f"made-up traffic: {frames} frames, {failed} differences")
    for path in captures:
        print(capture(program, path))
    sys.exit(1 if failed else 0)


main()
