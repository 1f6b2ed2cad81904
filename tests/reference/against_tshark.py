#!/usr/bin/env python3
"""Wireshark's dissectors (packet-iso15765.c, packet-obd-ii.c, packet-uds.c) and sumplog read the same from the same capture.

  against_tshark.py LEAST CAPTURE...      LEAST: how many values there must be to compare

Parameters, values, VIN and data identifiers of 11 and 29 bit traffic. Known to tshark 4.0 and so not compared:
- long messages of two units that interleave (it keeps one sequence for the whole bus): against_scapy.py compares those;
- parameters behind the first of a request for several: it reads the first one only, and raw;
- it follows either OBD or UDS in one run, so it runs for each.
"""

import collections
import os
import subprocess
import sys

import ours

EXTENDED_IDS = "iso15765.can.extended_ids:0x18da00f1-0x18dafff1,0x18daf100-0x18daf1ff,0x18db33f1"
STANDARD_IDS = "iso15765.can.ids:0x7df-0x7ef"
# Parameter -> tshark's field for it (tshark -G fields, 4.0.17).
FIELDS = {
    0x04: "engine_load", 0x05: "engine_coolant_temp", 0x0B: "intake_manifold_absolute_pressure", 0x0C: "engine_rpm",
    0x0D: "vehicle_speed", 0x0F: "intake_air_temp", 0x10: "maf_air_flow_rate", 0x11: "throttle_position",
    0x1F: "engine_uptime", 0x21: "distance_traveled_with_mil", 0x2F: "fuel_tank_level_input", 0x30: "warm_ups",
    0x31: "distance_traveled_since_code_clear", 0x32: "evap_system_vapor_pressure", 0x33: "absolute_barometric_pressure",
    0x3C: "catalyst_temp_11", 0x42: "control_module_voltage", 0x43: "absolute_load_value", 0x46: "ambient_air_temp",
    0x49: "accelerator_pedal_position_D", 0x4C: "commanded_throttle_actuator", 0x4D: "time_run_with_mil",
    0x4E: "time_since_trouble_code_clear", 0x5C: "engine_oil_temp", 0x5E: "engine_fuel_rate",
    0x61: "torque_driver_demand_engine", 0x62: "torque_actual_engine", 0x63: "torque_reference_engine",
}
READ_DATA_BY_IDENTIFIER = 0x22  # ISO 14229-1
REQUEST = "0x00"                # uds.reply is there for requests too


def tshark(capture, dissector, fields):
    """One dict of non-empty fields for each frame that the dissector understood."""
    command = ["tshark", "-n", "-r", capture, "-o", EXTENDED_IDS, "-o", STANDARD_IDS, "-d", f"iso15765.subdissector,{dissector}",
               "-Y", dissector, "-T", "fields", "-E", "separator=|"]
    for field in fields:
        command += ["-e", field]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        sys.exit(f"tshark ended with {done.returncode}: {done.stderr}")
    return [{name: value for name, value in zip(fields, line.split("|")) if value} for line in done.stdout.splitlines()]


def ecu(can_id):
    number = int(can_id)
    return f"{number:03X}" if number <= 0x7FF else f"{number:08X}"


def is_answer(name):
    """ISO 15765-4: units answer with 7E8…7EF, or 18DAF1xx."""
    return "7E8" <= name <= "7EF" if len(name) == 3 else name.startswith("18DAF1")


def interleaves(capture):
    """True when a unit begins or goes on with a long message while that of another one is unfinished."""
    left = {}  # identifier -> bytes to come
    with open(capture, encoding="ascii") as file:
        for line in file:
            name, _, data = line.split()[2].partition("#")
            kind = data[:1]
            if kind == "1":
                left[name] = int(data[1:4], 16) - 6
            elif kind == "2" and name in left:
                left[name] -= 7
                if left[name] <= 0:
                    del left[name]
            if len(left) > 1:
                return True
    return False


def compare_obd(capture, lines, differences):
    """Parameters, lists of parameters, VIN and name: what packet-obd-ii.c reads."""
    columns = {f"obd-ii.mode01_{name}": pid for pid, name in FIELDS.items()}
    frames = tshark(capture, "obd-ii", ["frame.time_epoch", "can.id", "obd-ii.mode01_supported_pid", "obd-ii.VIN", "obd-ii.ecu_name",
                                        *columns])
    answers = [(ecu(frame["can.id"]), frame) for frame in frames if is_answer(ecu(frame["can.id"]))]
    compare_parameters(capture, answers, columns, lines, differences)
    known = ours.vehicles(lines)
    compare_parameter_lists(capture, answers, known, differences)
    if interleaves(capture):
        print(f"{os.path.basename(capture)}: long messages interleave, not compared")
    else:
        compare_identity(capture, answers, known, differences)


def compare_parameters(capture, answers, columns, lines, differences):
    mine = collections.defaultdict(list)
    for reading in ours.readings(lines):
        mine[(round(reading.t, 6), reading.ecu, reading.signal)].append(reading.value)
    known = ours.parameter_signals()
    for unit, frame in answers:
        for column in columns.keys() & frame.keys():
            for signal in known.get(columns[column], []):
                key = (round(float(frame["frame.time_epoch"]), 6), unit, signal["name"])
                where = f"{os.path.basename(capture)} at {key[0]:.6f}, {unit} {signal['name']}"
                differences.same(f"{where}: how many readings", len(mine[key]), 1)
                if mine[key]:
                    # tshark prints at most three decimals
                    differences.same(where, mine[key][0], float(frame[column]), ours.tolerance(signal) + 0.0005)


def compare_parameter_lists(capture, answers, known, differences):
    """The bitmaps of PID 00, 20, 40 …: which parameters a unit has."""
    theirs = collections.defaultdict(set)
    for unit, frame in answers:
        if "obd-ii.mode01_supported_pid" in frame:
            theirs[unit] |= {int(pid, 0) for pid in frame["obd-ii.mode01_supported_pid"].split(",")}
    for unit, pids in theirs.items():
        differences.same(f"{os.path.basename(capture)}: parameters of {unit}",
                         sorted(int(pid, 16) for pid in known[unit].get("pids", [])), sorted(pids))


def compare_identity(capture, answers, known, differences):
    for unit, frame in answers:
        if "obd-ii.VIN" in frame:
            differences.same(f"{os.path.basename(capture)}: VIN of {unit}", known[unit].get("vin"), frame["obd-ii.VIN"])
        if "obd-ii.ecu_name" in frame:  # cut at the first NUL
            differences.same(f"{os.path.basename(capture)}: name of {unit}",
                             known[unit].get("name", "")[:len(frame["obd-ii.ecu_name"])], frame["obd-ii.ecu_name"])


def raw_value(signal, data):
    """The number in a payload that one signal fills; nothing for bit fields, which tshark cannot confirm."""
    if len(data) != signal["length"] or signal.get("bit_length", 8 * len(data)) != 8 * len(data):
        return None
    return int.from_bytes(data, signal.get("byte_order", "big"), signed=signal.get("signed", False))


def compare_identifiers(capture, decoder, lines, differences):
    mine = {(round(one.t, 6), one.ecu, one.signal): one.value for one in ours.readings(lines)}
    known = collections.defaultdict(list)
    for name in {ours.GENERIC, decoder} - {None}:
        for signal in ours.signals(name):
            if "did" in signal and signal.get("service", READ_DATA_BY_IDENTIFIER) == READ_DATA_BY_IDENTIFIER:
                known[signal["did"]].append(signal)
    fields = ["frame.time_epoch", "can.id", "uds.sid", "uds.reply", "uds.rdbi.data_identifier", "uds.rdbi.data_record"]
    for frame in tshark(capture, "uds", fields):
        if "uds.rdbi.data_record" not in frame or frame["uds.reply"] == REQUEST:
            continue
        data = bytes.fromhex(frame["uds.rdbi.data_record"])
        for signal in known[int(frame["uds.rdbi.data_identifier"], 0)]:
            raw = raw_value(signal, data)
            if raw is None or any(raw == one.get("raw") for one in signal.get("no_value", [])):
                continue
            value = raw * signal.get("scale", 1) + signal.get("offset", 0)
            low, high = signal.get("valid", (value, value))
            if not low <= value <= high:
                continue
            key = (round(float(frame["frame.time_epoch"]), 6), ecu(frame["can.id"]), signal["name"])
            where = f"{os.path.basename(capture)} at {key[0]:.6f}, {key[1]} {signal['name']}"
            differences.same(where, mine.get(key), value, ours.tolerance(signal))


def main():
    least, captures = int(sys.argv[1]), sys.argv[2:]
    differences = ours.Differences("tshark")
    for capture in captures:
        decoder = ours.decoder_of(capture)
        lines = ours.journal(capture, decoder)
        with ours.frames_only(capture) as frames:
            compare_obd(frames, lines, differences)
            compare_identifiers(frames, decoder, lines, differences)
    differences.end(least)


if __name__ == "__main__":
    main()
