#!/usr/bin/python3
"""scapy's ISO-TP, OBD and UDS layers and sumplog read the same from the same capture.

  against_scapy.py LEAST CAPTURE...     LEAST: how many values there must be to compare

The second opinion for what Wireshark cannot follow: transfers that interleave, several parameters in one answer, calibration
ids and numbers. Debian's module needs /usr/bin/python3. Known to scapy 2.5.0 and so not compared: PID 10 (it takes one byte of
two and loses what follows), 7F (counters too wide), A4 and A6 (raw), bitmaps of services other than 01.
"""

import collections
import os
import sys

import ours
from scapy.config import conf
conf.contribs["ISOTP"] = {"use-can-isotp-kernel-module": False}
conf.contribs["OBD"] = {"treat-response-pending-as-answer": False}
# pylint: disable=wrong-import-position
from scapy.contrib.automotive.obd.obd import OBD  # noqa: E402
from scapy.contrib.isotp import ISOTPMessageBuilder  # noqa: E402
from scapy.layers.can import CandumpReader  # noqa: E402

LOSES_WHAT_FOLLOWS = 0x10
TOO_WIDE_OR_RAW = {0x01, 0x41, 0x7F, 0xA4, 0xA6}
CURRENT_DATA, VEHICLE_INFORMATION = 0x41, 0x49  # SAE J1979, first byte of the positive answers


def ecu(number):
    return f"{number:03X}" if number <= 0x7FF else f"{number:08X}"


def is_answer(number):
    return 0x7E8 <= number <= 0x7EF or number >> 8 == 0x18DAF1


def messages(capture):
    builder = ISOTPMessageBuilder(use_ext_address=False)  # it guesses extended addresses otherwise, and invents messages
    for frame in CandumpReader(capture):
        builder.feed(frame)
    while len(builder):
        message = builder.pop()
        if is_answer(message.rx_id):
            yield ecu(message.rx_id), bytes(message.data)


def compare_parameters(capture, answers, lines, differences):
    """Values of each signal of each unit, in the order in which they came."""
    known = ours.parameter_signals()
    theirs, allowed = collections.defaultdict(list), {}
    for unit, payload in answers:
        if payload[:1] != bytes([CURRENT_DATA]):
            continue
        for record in OBD(payload).data_records:
            if record.pid == LOSES_WHAT_FOLLOWS:
                break
            value = record.payload.fields.get("data")
            if record.pid in TOO_WIDE_OR_RAW or not isinstance(value, (int, float)):
                continue
            for signal in known.get(record.pid, []):
                theirs[(unit, signal["name"])].append(float(value))
                allowed[signal["name"]] = ours.tolerance(signal) + 5e-4  # scapy rounds some factors to 3 decimals
    mine = collections.defaultdict(list)
    for reading in ours.readings(lines):
        mine[(reading.ecu, reading.signal)].append(reading.value)
    for (unit, signal), values in sorted(theirs.items()):
        where = f"{os.path.basename(capture)}: {unit} {signal}"
        differences.same(f"{where}: how many readings", len(mine[(unit, signal)]), len(values))
        for number, (one, other) in enumerate(zip(mine[(unit, signal)], values), 1):
            differences.same(f"{where}, reading {number}", one, other, allowed[signal])


def text(value):
    return (value if isinstance(value, str) else bytes(value).decode("latin-1")).rstrip("\0")


def compare_identity(capture, answers, lines, differences):
    known = ours.vehicles(lines)
    for unit, payload in answers:
        if payload[:1] != bytes([VEHICLE_INFORMATION]):
            continue
        for record in OBD(payload).data_records:
            where, fields = f"{os.path.basename(capture)}: {unit}", record.payload.fields
            if record.iid == 0x02:
                differences.same(f"{where} VIN", known[unit].get("vin"), text(fields["vehicle_identification_numbers"][0]))
            if record.iid == 0x04:
                differences.same(f"{where} calibration ids", known[unit].get("calibration_ids"),
                                 [text(one) for one in fields["calibration_identifications"]])
            if record.iid == 0x06:
                differences.same(f"{where} calibration verification numbers", known[unit].get("cvn"),
                                 [bytes(one).hex().upper() for one in fields["calibration_verification_numbers"]])
            if record.iid == 0x0A:
                # sumplog shows the filling between acronym and name as blanks
                differences.same(f"{where} name", known[unit].get("name"), text(fields["ecu_names"][0]).replace("\0", " "))


def main():
    least, captures = int(sys.argv[1]), sys.argv[2:]
    differences = ours.Differences("scapy")
    for capture in captures:
        decoder = ours.decoder_of(capture)
        lines = ours.journal(capture, decoder)
        with ours.frames_only(capture) as frames:
            answers = list(messages(frames))
            compare_parameters(frames, answers, lines, differences)
            compare_identity(frames, answers, lines, differences)
    differences.end(least)


if __name__ == "__main__":
    main()
