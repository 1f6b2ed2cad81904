#!/usr/bin/env python3
"""Checks a candump log: every frame that a tester sent only reads. Knows nothing of the program's own list.

  guard_list.py [--unit REQUEST[/ADDRESS]:RESPONSE[/ADDRESS]]... [--at-least N] LOG

--unit      a pair of 11-bit identifiers that a decoder names, in hex: 702:70A, with address bytes 6F1/18:618/F1
--at-least  fewer frames of a tester than this are an error too: a silent log proves nothing (default 1)
Exit status: 0 all are on the list; 1 some are not (printed with their line), or too few; 2 the call or a line is wrong.

Sources: SAE J1979 (services 01 02 03 06 07 09 0A), ISO 14230-3 (21), ISO 14229-1 (19, 22), ISO 15765-2 (single frame,
flow control, padding), ISO 15765-4 (identifiers), SAE J1939-21/-73/-81 (request, transport, address claim).
"""

import argparse
import re
import sys

LENGTHS = {0x01: range(2, 8), 0x02: (3, 5, 7), 0x03: (1,), 0x06: (2,), 0x07: (1,), 0x09: (2,), 0x0A: (1,), 0x21: (2,),
           0x22: (3,)}
LENGTHS_OF_19 = {0x01: 3, 0x02: 3, 0x04: 6, 0x06: 6, 0x0A: 2}
GROUPS = {0xEE00, 0xFEEC, 0xFEEB, 0xFEDA, 0xFDC5, 0xD300, 0xFECA, 0xFECB, 0xFECD, 0xFECE, 0xFECF, 0xFED4, 0xFDB5, 0xFDB6,
          0xFD80, 0xC200, 0xFEF8, 0xF005, 0xF004, 0xFEEE, 0xFEF1, 0xFEF5, 0xFEF7, 0xFEE5, 0xFEE0}
PADDING = 0xCC
ANSWER_S = 1.0 + 0.050     # own choice: how long a request stays open to an answer; and slack for the log's own clock
P2_STAR_S = 5.050 + 0.050  # the same after response pending
N_BS_S = 1.0 + 0.050       # ISO 15765-2
GROUP_S = 1.250 + 0.050    # SAE J1939-21

LINE = re.compile(r"\((\d+\.\d+)\)\s+(\S+)\s+([0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})#(#[0-9A-Fa-f])?(R\d?|(?:[0-9A-Fa-f]{2}\.?)*)(\s+[RT])?\s*$")


class Tester:
    """What one tester on one bus has asked, and who is answering."""

    def __init__(self, units):
        self.units = units
        self.asked = {}     # (request id, address): (service, time)
        self.pending = {}   # (request key, unit key): time
        self.waiting = {}   # unit key: time of the frame that made flow control due
        self.blocks = {}    # unit key: consecutive frames until flow control is due again
        self.groups = {}    # (destination, pgn): time
        self.sessions = {}  # source: (pgn, size, packets, time)

    # --- identifiers ---

    def request_kind(self, ident, extended):
        """functional, physical, mixed, named, group, transport, claim; 'foreign' for a tester's id off the list; None."""
        if not extended:
            if ident == 0x7DF:
                return "functional"
            if 0x7E0 <= ident <= 0x7E7:
                return "physical"
            return "named" if any(request == ident for request, _, _, _ in self.units) else None
        form, target, source = ident >> 16, ident >> 8 & 0xFF, ident & 0xFF
        low = form & 0xFF
        if source == 0xF1 and low in (0xDA, 0xDB, 0xCD, 0xCE):
            if target == 0xF1:
                return "foreign"
            return {0x18DA: "physical", 0x18CE: "mixed"}.get(form) or ("functional" if ident == 0x18DB33F1 else "foreign")
        if source == 0xF9 and low not in (0xDA, 0xDB, 0xCD, 0xCE):
            if ident == 0x18EEFFF9:
                return "claim"
            return {0x18EA: "group", 0x18EC: "transport"}.get(form, "foreign")
        return None

    def answers(self, request, extended, unit):
        """Whether the unit (id, extended, address) may answer a request sent to (id, address)."""
        ident, address = request
        unit_id, unit_extended, unit_address = unit
        if unit_extended != extended:
            return False
        if not extended:
            named = [one for one in self.units if one[0] == ident and one[1] == address]
            if named:
                return any((one[2], one[3]) == (unit_id, unit_address) for one in named)
            return 0x7E8 <= unit_id <= 0x7EF if ident == 0x7DF else unit_id == ident + 8
        if ident == 0x18DB33F1:
            return unit_id & 0xFFFFFF00 == 0x18DAF100
        return unit_id == (ident & 0xFFFF0000 | 0xF100 | ident >> 8 & 0xFF) and unit_address == address

    # --- what units say ---

    def unit_frame(self, time, ident, extended, data):
        if extended and ident >> 16 & 0xFF in (0xEC, 0xEB) and ident >> 8 & 0xFF == 0xF9:
            self.group_frame(time, ident, data)
            return
        address = None
        if any(response == ident and back is not None for _, _, response, back in self.units) or \
                (extended and ident & 0xFFFFFF00 == 0x18CEF100):
            address, data = (data[0] if data else None), data[1:]
        unit = (ident, extended, address)
        if not data:
            return
        kind = data[0] >> 4
        if kind == 2:
            left = self.blocks.get(unit, 0)
            if left == 1:
                self.waiting[unit] = time
            self.blocks[unit] = max(0, left - 1)
            return
        if kind > 1:
            return
        self.waiting.pop(unit, None)
        payload = data[1:] if kind == 0 else data[6:] if data[0] == 0x10 and data[1] == 0 else data[2:]
        if not payload:
            return
        negative = kind == 0 and payload[0] == 0x7F and len(payload) >= 3
        service = payload[1] if negative else payload[0] - 0x40
        for request, (asked, when, wide) in self.asked.items():
            if asked != service or not self.answers(request, wide, unit):
                continue
            pending = self.pending.get((request, unit))
            if time - when > ANSWER_S and (pending is None or time - pending > P2_STAR_S):
                continue
            if negative and payload[2] == 0x78:
                self.pending[request, unit] = time
            elif kind == 1:
                self.waiting[unit] = time

    def group_frame(self, time, ident, data):
        source = ident & 0xFF
        if ident >> 16 & 0xFF == 0xEB:
            if source in self.sessions:
                self.sessions[source] = self.sessions[source][:3] + (time,)
            return
        if len(data) != 8 or data[0] != 0x10:
            return
        pgn = data[5] | data[6] << 8 | data[7] << 16
        when = max(self.groups.get((source, pgn), -1e9), self.groups.get((0xFF, pgn), -1e9))
        if time - when <= GROUP_S:
            self.sessions[source] = (pgn, data[1] | data[2] << 8, data[3], time)

    # --- what the tester says: returns what is wrong with it, or None ---

    def tester_frame(self, time, kind, ident, extended, data):
        if kind == "foreign":
            return "an identifier that is not on the list"
        if kind == "claim":
            return None if len(data) == 8 else "an address claim has eight bytes"
        if kind == "group":
            pgn = int.from_bytes(data, "little")
            if len(data) != 3 or pgn not in GROUPS:
                return "a group that is not on the list"
            self.groups[ident >> 8 & 0xFF, pgn] = time
            return None
        if kind == "transport":
            return self.transport(time, ident, data)
        if len(data) != 8:
            return "not eight bytes long"
        address = None
        if kind == "mixed" or (kind == "named" and any(one[0] == ident and one[1] is not None for one in self.units)):
            address, data = data[0], data[1:]
            if kind == "named" and not any(one[:2] == (ident, address) for one in self.units):
                return "an address byte that no decoder names"
        if data[0] >> 4 == 3:
            return self.flow_control(time, ident, extended, address, data)
        length = data[0]
        if not 1 <= length <= len(data) - 1:
            return "neither a single frame nor flow control"
        payload = data[1:1 + length]
        if any(byte != PADDING for byte in data[1 + length:]):
            return "padded with something else than CC"
        service = payload[0]
        if service == 0x19:
            if length < 2 or LENGTHS_OF_19.get(payload[1]) != length:
                return "a sub-function of service 19 that is not on the list, or its length"
        elif service not in LENGTHS:
            return f"service {service:02X} is not on the list"
        elif length not in LENGTHS[service]:
            return f"service {service:02X} does not have this length"
        self.asked[ident, address] = (service, time, extended)
        for key in [key for key in self.pending if key[0] == (ident, address)]:
            del self.pending[key]
        return None

    def flow_control(self, time, ident, extended, address, data):
        if data[0] not in (0x30, 0x32):
            return "flow control that is neither 'go on' nor 'overflow'"
        if any(byte != PADDING for byte in data[3:]):
            return "padded with something else than CC"
        for unit, since in self.waiting.items():
            if ident in (0x7DF, 0x18DB33F1) or time - since > N_BS_S or not self.answers((ident, address), extended, unit):
                continue
            del self.waiting[unit]
            self.blocks[unit] = data[1] if data[0] == 0x30 else 0
            return None
        return "flow control for a unit that is not answering a request of ours"

    def transport(self, time, ident, data):
        session = self.sessions.get(ident >> 8 & 0xFF)
        if len(data) != 8 or not session or time - session[3] > GROUP_S or \
                session[0] != data[5] | data[6] << 8 | data[7] << 16:
            return "transport control without a session of ours"
        if data[0] == 0x11 and data[1] and data[2] and data[2] + data[1] - 1 <= session[2]:
            return None
        if data[0] == 0x13 and data[1] | data[2] << 8 == session[1] and data[3] == session[2]:
            return None
        return None if data[0] == 0xFF else "transport control that only a sender has, or that holds"


def unit_pair(text):
    match = re.fullmatch(r"([0-9A-Fa-f]{3})(?:/([0-9A-Fa-f]{2}))?:([0-9A-Fa-f]{3})(?:/([0-9A-Fa-f]{2}))?", text)
    if not match:
        raise argparse.ArgumentTypeError(f"'{text}' is not REQUEST[/ADDRESS]:RESPONSE[/ADDRESS] in hex")
    pair = tuple(int(part, 16) if part else None for part in match.groups())
    if not 0x600 <= pair[0] <= 0x7FF or 0x7DF <= pair[0] <= 0x7EF:
        raise argparse.ArgumentTypeError(f"a decoder may not name {match.group(1)} for requests")
    return pair


def main(arguments=None):
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--unit", action="append", default=[], type=unit_pair, help="pair that a decoder names")
    parser.add_argument("--at-least", type=int, default=1, help="frames of a tester that there must be")
    parser.add_argument("log")
    call = parser.parse_args(arguments)
    testers = {}
    frames = wrong = 0
    try:
        with open(call.log, encoding="ascii") as log:
            lines = log.read().splitlines()
    except (OSError, UnicodeDecodeError) as error:
        print(f"{call.log}: {error}", file=sys.stderr)
        return 2
    for number, line in enumerate(lines, 1):
        if not line.strip() or line.startswith("#"):
            continue
        match = LINE.match(line)
        if not match:
            print(f"{call.log}:{number}: not a line of candump's log: {line}", file=sys.stderr)
            return 2
        time, bus, ident, extended = float(match[1]), match[2], int(match[3], 16), len(match[3]) == 8
        if extended and ident >= 0x20000000:
            continue  # error frame
        tester = testers.setdefault(bus, Tester(call.unit))
        kind = tester.request_kind(ident, extended)
        remote = match[5].startswith("R")
        data = b"" if remote else bytes.fromhex(match[5].replace(".", ""))
        if kind is None:
            tester.unit_frame(time, ident, extended, data)
            continue
        frames += 1
        why = "a remote or CAN FD frame" if remote or match[4] else tester.tester_frame(time, kind, ident, extended, data)
        if why:
            wrong += 1
            print(f"{call.log}:{number}: {why}: {line}")
    if wrong:
        return 1
    if frames < call.at_least:
        print(f"{call.log}: {frames} frames of a tester, expected at least {call.at_least}")
        return 1
    print(f"{call.log}: {frames} frames of a tester, all of them on the list")
    return 0


if __name__ == "__main__":
    sys.exit(main())
