#!/usr/bin/python3
"""tshark reads from a recorded scan the ISO 14229-1 answers that its scenario describes.

    codes_against_tshark.py RECORD_OF LEAST SCENARIO...     LEAST: how many values there must be to compare

What is expected is taken from the scenario.toml here, by Python. tshark 4.0.17 gives the record of an answer to service 19 as one
string of bytes, and service and code of a negative answer; its transport mixes transfers of several units, so only scenarios
with 11-bit identifiers are compared, in which services 19 are asked of one unit after the other. Exit status 77: no tshark.
"""

import collections
import shutil
import subprocess
import sys
import tempfile
import tomllib

import comparison

LIST, PERMITTED, SNAPSHOT, EXTENDED = "0x02", "0x0a", "0x04", "0x06"  # ISO 14229-1, sub-functions of service 19
NOT_SUPPORTED, PENDING = 0x11, 0x78
FIELDS = ["can.id", "uds.sid", "uds.reply", "uds.rdtci.type", "uds.rdtci.record", "uds.err.sid", "uds.err.code"]
SYSTEMS = "PCBU"  # SAE J2012: the first two bits


def code_bytes(code):
    text, _, kind = code["code"].partition("-")
    first = SYSTEMS.index(text[0]) << 6 | int(text[1]) << 4 | int(text[2], 16)
    return f"{first:02x}{text[3:].lower()}{(kind or '00').lower()}"


def records(entry, key):
    return "".join(f"{one['record']:02x}" + one["hex"].replace(" ", "").lower() for one in entry.get(key, []))


def heard(log):
    with tempfile.NamedTemporaryFile("w", suffix=".log") as file:
        file.write(log)
        file.flush()
        words = ["tshark", "-n", "-r", file.name, "-d", "can.subdissector,iso15765", "-d", "iso15765.subdissector,uds",
                 "-Y", "uds.reply==1", "-T", "fields", "-E", "separator=|"]
        for field in FIELDS:
            words += ["-e", field]
        out = subprocess.run(words, capture_output=True, text=True, check=True, timeout=60).stdout
    return [line.split("|") for line in out.splitlines()]


def compare(record_of, path, same):
    with open(path, "rb") as file:
        scenario = tomllib.load(file)
    if scenario["bus"]["identifiers"] != 11:
        return
    log = subprocess.run([record_of, path], capture_output=True, text=True, check=True, timeout=60).stdout
    lists, single, refused = {}, {}, collections.Counter()
    for unit, service, _, kind, record, error_service, error in heard(log):
        if error:
            refused[(int(unit), int(error_service, 16), int(error, 16))] += 1
        elif service == "0x19" and kind in (LIST, PERMITTED):
            lists.setdefault((int(unit), kind), set()).add(record)
        elif service == "0x19" and kind in (SNAPSHOT, EXTENDED):
            single[(int(unit), kind, record[:6])] = record
    silent = {event["ecu"] for event in scenario.get("event", []) if event["what"] == "ecu_silent"}
    waits = {event["ecu"]: event["times"] for event in scenario.get("event", []) if event["what"] == "answers_pending"}
    for ecu in scenario["ecu"]:
        unit, where, memory = ecu["response"], f"{path}: {ecu['id']}", ecu.get("memory", {"services": []})
        if ecu["id"] in silent:
            same(f"{where} says nothing", [], [key for key in [*lists, *single, *refused] if key[0] == unit])
            continue
        if "ISO 14229" not in memory["services"]:
            same(f"{where} refuses service 19", True, refused[(unit, 0x19, NOT_SUPPORTED)] > 0)
            continue
        same(f"{where} asked for time", waits.get(ecu["id"], 0), refused[(unit, 0x19, PENDING)])
        available = memory.get("availability", 0xFF)
        codes = [c for c in ecu.get("code", []) if "-" in c["code"]]
        for kind in (LIST, PERMITTED):
            for record in lists.get((unit, kind), set()):
                same(f"{where} 19 {kind[2:]} mask", f"{available:02x}", record[:2])
                told = [record[i:i + 8] for i in range(2, len(record), 8)]
                same(f"{where} 19 {kind[2:]}", [code_bytes(c) + f"{c['status'] & available:02x}" for c in codes], told)
        same(f"{where} listed its codes", True, (unit, LIST) in lists)
        for code in codes:
            head = code_bytes(code)
            for kind, key in ((SNAPSHOT, "snapshot"), (EXTENDED, "extended")):
                if (unit, kind, head) in single:
                    same(f"{where} 19 {kind[2:]} of {code['code']}",
                         head + f"{code['status'] & available:02x}" + records(code, key), single[(unit, kind, head)])


if __name__ == "__main__":
    if shutil.which("tshark") is None:
        print("tshark is not installed")
        sys.exit(77)
    comparison.run("tshark", compare)
