#!/usr/bin/python3
"""scapy reads from a recorded scan the codes that its scenario describes.

    codes_against_scapy.py RECORD_OF LEAST SCENARIO...     LEAST: how many values there must be to compare

What is expected is taken from the scenario.toml here, by Python, so the program's own reader is not asked. scapy 2.5.0 puts the
frames together and decodes services 03, 07 and 0A (count and codes) and 02 (parameters of freeze frames, and the code that
stored one). Its count and readiness of PID 01 are compared too, without the bytes whose bits it reverses (C and D).
Exit status 77: scapy is not installed.
"""

import collections
import io
import logging
import subprocess
import sys
import tomllib

import comparison

logging.getLogger("scapy").setLevel(logging.ERROR)
try:
    from scapy.config import conf
    conf.contribs["ISOTP"] = {"use-can-isotp-kernel-module": False}
    conf.contribs["OBD"] = {"treat-response-pending-as-answer": False}
    from scapy.contrib.automotive.obd.obd import OBD
    from scapy.contrib.isotp import ISOTPMessageBuilder
    from scapy.layers.can import CandumpReader
except ImportError:
    print("python3-scapy is not installed")
    sys.exit(77)

STORED, PENDING, PERMANENT, FREEZE_FRAME, CURRENT_DATA = 0x43, 0x47, 0x4A, 0x42, 0x41  # SAE J1979, positive answers
CONFIRMED_BIT, PENDING_BIT = 0x08, 0x04  # ISO 14229-1, statusOfDTC
SYSTEMS = "PCBU"  # SAE J2012


def status_of(code):
    return code.get("status", (CONFIRMED_BIT if code.get("stored") else 0) | (PENDING_BIT if code.get("pending") else 0))


def expected(scenario):
    """Answer's first byte and unit -> codes without their failure types, in the order of the file."""
    silent = {event["ecu"] for event in scenario.get("event", []) if event["what"] == "ecu_silent"}
    lists = {}
    for ecu in scenario["ecu"]:
        if ecu["id"] in silent or "J1979" not in ecu["memory"]["services"]:
            continue
        codes = ecu.get("code", [])
        lists[(STORED, ecu["response"])] = [c["code"][:5] for c in codes if status_of(c) & CONFIRMED_BIT]
        lists[(PENDING, ecu["response"])] = [c["code"][:5] for c in codes if status_of(c) & PENDING_BIT]
        lists[(PERMANENT, ecu["response"])] = [c["code"][:5] for c in codes if c.get("permanent")]
    return lists


def code_text(dtc):
    """scapy has the nibbles of SAE J2012; location is the letter."""
    return f"{SYSTEMS[dtc.location]}{dtc.code1}{dtc.code2:X}{dtc.code3:X}{dtc.code4:X}"


def answers(log, units):
    builder = ISOTPMessageBuilder(use_ext_address=False)
    for frame in CandumpReader(io.BytesIO(log.encode("ascii"))):
        builder.feed(frame)
    while len(builder):
        message = builder.pop()
        if message.rx_id in units:
            yield message.rx_id, bytes(message.data)


def compare(record_of, path, same):
    with open(path, "rb") as file:
        scenario = tomllib.load(file)
    run = subprocess.run([record_of, path], capture_output=True, text=True, check=True, timeout=60)
    wanted = expected(scenario)
    units = {ecu["response"]: ecu for ecu in scenario["ecu"]}
    seen = collections.Counter()
    for unit, payload in answers(run.stdout, units):
        name = units[unit]["id"]
        service = payload[0]
        if service in (STORED, PENDING, PERMANENT):
            packet = OBD(payload)
            found = [code_text(dtc) for dtc in packet.payload.dtcs] if len(payload) > 2 else []
            same(f"{path}: {name} {service:02X}", wanted[(service, unit)], found)
            same(f"{path}: {name} {service:02X} count", len(wanted[(service, unit)]), packet.payload.count)
            seen[(service, unit)] += 1
        if service == FREEZE_FRAME:
            with_frame = [c for c in units[unit].get("code", []) if "freeze_frame" in c]
            for record in OBD(payload).payload.data_records:
                value = record.payload
                where = f"{path}: {name} 42 {record.pid:02X}"
                same(f"{where} frame", 0, record.frame_no)
                if record.pid == 0x02:
                    same(where, with_frame[0]["code"][:5] if with_frame else "P0000", code_text(value.dtc))
                values = {one["pid"]: bytes.fromhex(one["hex"]) for one in with_frame[0]["freeze_frame"]} if with_frame else {}
                if record.pid in values:
                    raw = int.from_bytes(values[record.pid], "big")
                    # SAE J1979: 05 A - 40 °C, 0C (256A+B)/4 rpm, 0D A km/h
                    same(where, {0x05: raw - 40, 0x0C: raw / 4, 0x0D: raw}[record.pid], value.data)
                seen[(service, unit)] += 1
        if payload[:2] == bytes([CURRENT_DATA, 0x01]):
            record = OBD(payload).payload.data_records[0].payload
            memory = units[unit]["memory"]
            same(f"{path}: {name} 41 01 count", len(wanted[(STORED, unit)]), record.dtc_count)
            same(f"{path}: {name} 41 01 lamp", int(memory.get("lamp", bool(wanted[(STORED, unit)]))), record.mil)
    for key in wanted:
        same(f"{path}: {units[key[1]]['id']} {key[0]:02X} was answered once", 1, seen[key])


if __name__ == "__main__":
    comparison.run("scapy", compare)
