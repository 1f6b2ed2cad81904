#!/usr/bin/env python3
"""Small captures of diagnostic traffic, made here: samples.py FOLDER. All data is invented; no vehicle sent it.

The service 01 bytes and values are those of SAE J1979 as Wireshark's packet-obd-ii.c and scapy's OBD layer read them; the
programs themselves are asked by against_tshark.py and against_scapy.py, so no value stands here.
"""

import os
import sys

from frames import Recording

# PID and its data bytes: temperatures, speeds, voltages, torque, one below zero, one signed.
PARAMETERS = [
    (0x04, "80"), (0x05, "7B"), (0x05, "00"), (0x05, "FF"), (0x0B, "65"), (0x0C, "1AF8"), (0x0C, "0E70"), (0x0C, "FFFF"),
    (0x0D, "32"), (0x0F, "41"), (0x0F, "1E"), (0x10, "0AF0"), (0x11, "33"), (0x1F, "0258"), (0x21, "0064"), (0x2F, "99"),
    (0x30, "07"), (0x31, "03E8"), (0x32, "FF9C"), (0x33, "65"), (0x3C, "1F40"), (0x42, "3521"), (0x43, "00FF"), (0x46, "46"),
    (0x46, "00"), (0x49, "33"), (0x4C, "20"), (0x4D, "0010"), (0x4E, "0123"), (0x5C, "6E"), (0x5E, "0190"), (0x61, "91"),
    (0x62, "8C"), (0x63, "01F4"),
]
TOGETHER = [(0x05, "7B"), (0x0C, "1AF8"), (0x0D, "32"), (0x0F, "41"), (0x11, "33"), (0x5C, "6E")]
# 49 CFR 565: both check digits are right. Neither belongs to a vehicle that is known here: they are the textbook examples.
VIN = b"1M8GDM9AXKP042788"
OTHER_VIN = b"11111111111111111"
CALIBRATIONS = [b"CALID-0123456789", b"SECOND-CAL".ljust(16, b"\0")]
CVNS = [bytes.fromhex("1791BC82"), bytes.fromhex("00000001")]
NAME = b"TCM\0-TransmissionCtl"


def parameters(request, response, flow):
    """One parameter in each request."""
    recording = Recording()
    for pid, data in PARAMETERS:
        recording.exchange(request, bytes([0x01, pid]), response, bytes([0x41, pid]) + bytes.fromhex(data), flow)
    recording.exchange(request, bytes([0x01, 0x00]), response, bytes.fromhex("4100BE1FA813"), flow)
    recording.exchange(request, bytes([0x01, 0x40]), response, bytes.fromhex("41406C000010"), flow)
    return recording


def together(request, response, flow):
    """Six parameters in one request, the answer in several frames; then three in another order."""
    recording = Recording()
    for some in (TOGETHER, [TOGETHER[5], TOGETHER[0], TOGETHER[1]]):
        recording.exchange(request, bytes([0x01] + [pid for pid, _ in some]), response,
                           b"\x41" + b"".join(bytes([pid]) + bytes.fromhex(data) for pid, data in some), flow)
    return recording


def identity(request, response, flow):
    """Service 09: VIN, calibration ids, CVN, name."""
    recording = Recording()
    for info, count, data in [(0x02, 1, VIN), (0x04, 2, b"".join(CALIBRATIONS)), (0x06, 2, b"".join(CVNS)), (0x0A, 1, NAME)]:
        recording.exchange(request, bytes([0x09, info]), response, bytes([0x49, info, count]) + data, flow)
    return recording


def interleaved():
    """Engine and transmission answer one functional request at the same time, frame by frame in turn."""
    recording = Recording()
    recording.single(0x7DF, bytes([0x09, 0x02]))
    engine = recording.first(0x7E8, b"\x49\x02\x01" + VIN)
    transmission = recording.first(0x7E9, b"\x49\x02\x01" + OTHER_VIN)
    recording.flow_control(0x7E0)
    recording.flow_control(0x7E1)
    for one, other in zip(engine, transmission):
        recording.frame(0x7E8, one)
        recording.frame(0x7E9, other)
    recording.pause(100)
    recording.single(0x7DF, bytes([0x01, 0x05]))
    recording.single(0x7E9, bytes.fromhex("410530"))
    recording.single(0x7E8, bytes.fromhex("41057B"))
    return recording


def identifiers():
    """Service 22 of one unit: positive, negative, and pending before the answer."""
    recording = Recording()
    recording.exchange(0x7E1, bytes.fromhex("22F190"), 0x7E9, bytes.fromhex("62F190") + VIN, 0x7E1)
    recording.exchange(0x7E1, bytes.fromhex("221A05"), 0x7E9, bytes.fromhex("621A0550"), 0x7E1)
    recording.exchange(0x7E1, bytes.fromhex("22FFFE"), 0x7E9, bytes.fromhex("7F2231"), 0x7E1)
    recording.single(0x7E1, bytes.fromhex("22F405"))
    recording.single(0x7E9, bytes.fromhex("7F2278"))
    recording.pause(400)
    recording.single(0x7E9, bytes.fromhex("62F4055A"))
    return recording


def make(folder):
    """FOLDER/<name>/capture.log, and about.toml where a decoder is needed, as below captures/."""
    ids_11, ids_29 = (0x7DF, 0x7E8, 0x7E0), (0x18DB33F1, 0x18DAF110, 0x18DA10F1)
    samples = {"interleaved": interleaved(), "identifiers": identifiers()}
    for bits, ids in (("11", ids_11), ("29", ids_29)):
        samples[f"parameters-{bits}"] = parameters(*ids)
        samples[f"together-{bits}"] = together(*ids)
        samples[f"identity-{bits}"] = identity(*ids)
    for name, recording in samples.items():
        os.makedirs(os.path.join(folder, name), exist_ok=True)
        recording.write(os.path.join(folder, name, "capture.log"))
    with open(os.path.join(folder, "identifiers", "about.toml"), "w", encoding="ascii") as file:
        file.write('decoder = "demo-9"\n')


if __name__ == "__main__":
    make(sys.argv[1])
