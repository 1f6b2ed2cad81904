#!/usr/bin/env python3
"""Control units whose transport is the kernel's own (CAN_ISOTP sockets).      kernel_units.py INTERFACE

Four that answer are meant by named-units; the fourth stays silent. Everything is invented. Prints one line when it is ready, and
then every request that it got. Its tables are written down from SAE J1979 and ISO 14229-1 as quoted in tests/scan and by hand;
nothing of it comes from sumplog.
"""

import select
import socket
import struct
import sys
import time

from kernel_unit_codes import BRAKE_CODES, TRANSMISSION_CODES

CAN_ISOTP_OPTS, CAN_ISOTP_TX_PADDING = 1, 0x04
SOL_CAN_ISOTP = 106
FUNCTIONAL = 0x7DF

VIN = b"0SUMPL0G0N0T0CAR1"
SUPPORTED = {0x00: "88180001", 0x20: "80018001", 0x40: "40040000"}
ENGINE_VALUES = {0x01: "83077F00", 0x05: "50", 0x0C: "0AF0", 0x0D: "00", 0x21: "0000", 0x30: "05", 0x31: "0064",
                 0x42: "30D4", 0x4E: "0020"}


def engine(request):
    service = request[0]
    if service == 0x01:
        out = b""
        for pid in request[1:]:
            value = SUPPORTED.get(pid) or ENGINE_VALUES.get(pid)
            if value:
                out += bytes([pid]) + bytes.fromhex(value)
        return [b"\x41" + out] if out else []
    if service == 0x03:
        return [bytes.fromhex("4303030101280562")]
    if service == 0x07:
        return [bytes.fromhex("47010420")]
    if service == 0x0A:
        return [bytes.fromhex("4A00")]
    if service == 0x02:
        frozen = {0x00: "48100000", 0x02: "0301", 0x05: "50", 0x0C: "0AF0"}
        out = b""
        for pid, frame in zip(request[1::2], request[2::2]):
            if frame == 0 and pid in frozen:
                out += bytes([pid, 0]) + bytes.fromhex(frozen[pid])
        return [b"\x42" + out] if out else []
    if service == 0x09:
        if request[1:] == b"\x00":
            return [bytes.fromhex("490040000000")]
        if request[1:] == b"\x02":
            return [b"\x49\x02\x01" + VIN]
        return []
    return [bytes([0x7F, service, 0x11])]


def transmission(request):
    service = request[0]
    if service != 0x19:
        return [bytes([0x7F, service, 0x11])]
    kind = request[1]
    if kind == 0x01:
        return [bytes.fromhex("5901FF01") + struct.pack(">H", len(TRANSMISSION_CODES))]
    if kind == 0x02:  # thinks about it four times
        return [b"\x7f\x19\x78"] * 4 + [bytes.fromhex("5902FF" + "".join(TRANSMISSION_CODES))]
    if kind in (0x04, 0x06):
        code = request[2:5].hex().upper()
        status = next((c[6:] for c in TRANSMISSION_CODES if c[:6] == code), None)
        if status and kind == 0x04 and code == "07111F":
            return [bytes.fromhex("5904" + code + status + "0101F4050036")]
        if status and kind == 0x06:
            return [bytes.fromhex("5906" + code + status + "01" + "07")]
        return [bytes([0x7F, 0x19, 0x31])]
    return [bytes([0x7F, 0x19, 0x12])]


def brakes(request):
    service = request[0]
    if service != 0x19:
        return [bytes([0x7F, service, 0x11])]
    if request[1] == 0x01:
        return [bytes.fromhex("5901FF01") + struct.pack(">H", len(BRAKE_CODES))]
    if request[1] == 0x02:
        return [bytes.fromhex("5902FF" + "".join(BRAKE_CODES))]
    return [bytes([0x7F, 0x19, 0x12])]


def open_socket(interface, received, sent):
    one = socket.socket(socket.AF_CAN, socket.SOCK_DGRAM, socket.CAN_ISOTP)
    # flags, frame_txtime, ext_address, txpad_content, rxpad_content, rx_ext_address
    one.setsockopt(SOL_CAN_ISOTP, CAN_ISOTP_OPTS, struct.pack("=IIBBBB", CAN_ISOTP_TX_PADDING, 0, 0, 0xAA, 0, 0))
    one.bind((interface, received, sent))
    return one


def main():
    interface = sys.argv[1]
    units = {0x7E0: engine, 0x7E1: transmission, 0x7E2: brakes}
    own = {open_socket(interface, request, request + 8): unit for request, unit in units.items()}
    everybody = open_socket(interface, FUNCTIONAL, 0x7EF)
    print("ready", flush=True)
    waiting = []  # (when, socket, answer)
    while True:
        pause = max(0.0, min((when for when, _, _ in waiting), default=time.monotonic() + 1) - time.monotonic())
        readable, _, _ = select.select([everybody, *own], [], [], pause)
        for one in readable:
            request = one.recv(4095)
            print(("all " if one is everybody else "one ") + request.hex().upper(), flush=True)
            for unit_socket, unit in own.items() if one is everybody else [(one, own[one])]:
                answers = unit(request)
                # ISO 14229-1: nobody answers "not supported" to a request that was meant for all.
                if one is everybody and answers and answers[0][0] == 0x7F and answers[0][2] != 0x78:
                    continue
                for i, answer in enumerate(answers):
                    waiting.append((time.monotonic() + 0.01 + 0.3 * i, unit_socket, answer))
        now = time.monotonic()
        due = [entry for entry in waiting if entry[0] <= now]
        waiting = [entry for entry in waiting if entry[0] > now]
        for _, unit_socket, answer in sorted(due, key=lambda entry: entry[0]):
            unit_socket.send(answer)


main()
