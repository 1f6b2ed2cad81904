#!/usr/bin/env python3
"""A serial CAN adapter with the rest of the bus behind it: the words of the kernel's slcan driver on a pseudo-terminal, and the
frames of a virtual interface as the bus, which has one true bit rate.

    serial_adapter.py PORT BUS TRUE_RATE LOG

PORT is made as a link to the terminal. Standard input takes one order a line: "bus-off", "passive", "unplug", "plug".
LOG gets a line for each word of the driver and each order: "<seconds> <what>".
Words: Linux drivers/net/can/slcan/slcan-core.c (S rate, O open, L open listening only, C close, t and T frames, s state, e errors).
"""

import os
import pty
import select
import socket
import struct
import sys
import time
import tty

RATES = {"0": 10_000, "1": 20_000, "2": 50_000, "3": 100_000, "4": 125_000, "5": 250_000, "6": 500_000, "7": 800_000, "8": 1_000_000}
EXTENDED, REMOTE, ERROR = 0x80000000, 0x40000000, 0x20000000

port, bus_name, true_rate, log_name = sys.argv[1:]
true_rate = int(true_rate)
log = open(log_name, "w", buffering=1)


def note(what):
    log.write(f"{time.time():.6f} {what}\n")


class Adapter:
    def __init__(self):
        self.bus = socket.socket(socket.PF_CAN, socket.SOCK_RAW, socket.CAN_RAW)
        self.bus.bind((bus_name,))
        self.terminal = None
        self.line = b""
        self.plug()

    def plug(self):
        self.terminal, far_end = pty.openpty()
        tty.setraw(far_end)
        os.set_blocking(self.terminal, False)
        if os.path.islink(port):
            os.unlink(port)
        os.symlink(os.ttyname(far_end), port)
        os.close(far_end)  # kept open it would keep the driver attached when the program has gone
        self.rate, self.open, self.listening, self.off = None, False, False, False
        note("plugged")

    def unplug(self):
        os.close(self.terminal)
        os.unlink(port)
        self.terminal = None
        note("unplugged")

    def say(self, words):
        if self.terminal is not None:
            try:
                os.write(self.terminal, words.encode())
            except OSError:
                pass

    def state(self, letter, received, sent):
        self.say(f"s{letter}{received:03d}{sent:03d}\r")

    def on_word(self, word):
        if not word:
            return
        kind = word[0]
        if kind in "tTrR":
            self.on_send(word)
            return
        note(f"driver {word}")
        if kind == "S":
            self.rate = RATES.get(word[1:])
        elif kind in "OL":
            self.open, self.listening, self.off = True, kind == "L", False
        elif kind == "C":
            self.open = False

    def on_send(self, word):
        if not self.open or self.listening or self.off:
            note(f"refused {word}")
            return
        if self.rate != true_rate:
            note(f"wrong rate {word}")
            self.say("e1a\r")
            self.state("p", 0, 128)
            return
        digits = 3 if word[0] in "tr" else 8
        identifier = int(word[1:1 + digits], 16) | (EXTENDED if digits == 8 else 0)
        length = int(word[1 + digits], 16)
        data = bytes.fromhex(word[2 + digits:2 + digits + 2 * length])
        self.bus.send(struct.pack("=IB3x8s", identifier, length, data.ljust(8, b"\0")))

    def on_bus(self):
        identifier, length, data = struct.unpack("=IB3x8s", self.bus.recv(16))
        if self.terminal is None or not self.open or self.off or identifier & (ERROR | REMOTE):
            return
        if self.rate != true_rate:
            self.say("e1s\r")
            return
        name = f"T{identifier & 0x1FFFFFFF:08X}" if identifier & EXTENDED else f"t{identifier & 0x7FF:03X}"
        self.say(f"{name}{length}{data[:length].hex().upper()}\r")

    def on_order(self, order):
        note(f"order {order}")
        if order == "bus-off":
            self.off = True
            self.state("b", 0, 248)
        elif order == "passive":
            self.state("p", 0, 130)
        elif order == "unplug":
            self.unplug()
        elif order == "plug":
            self.plug()

    def run(self):
        orders = b""
        while True:
            waiting = [self.bus, sys.stdin] + ([self.terminal] if self.terminal is not None else [])
            for ready in select.select(waiting, [], [])[0]:
                if ready is self.bus:
                    self.on_bus()
                elif ready is sys.stdin:
                    got = os.read(0, 4096)
                    if not got:
                        return
                    orders += got
                    *lines, orders = orders.split(b"\n")
                    for line in lines:
                        self.on_order(line.decode().strip())
                    break  # the terminal may be another one now
                else:
                    try:
                        self.line += os.read(self.terminal, 4096)
                    except OSError:  # nobody has the port open
                        time.sleep(0.05)
                        continue
                    *words, self.line = self.line.split(b"\r")
                    for word in words:
                        self.on_word(word.decode(errors="replace"))


Adapter().run()
