#!/usr/bin/env python3
"""Writes a candump log of a busy bus: 4,000 frames a second, a quarter of them diagnostic, ten fluid readings a second.

    busy_log.py FRAMES FILE

An invented car of the invented family demo-9. In every tenth of a second: 300 broadcast frames of 60 identifiers (counters, a
checksum, slow and fast values); the fluid temperature, engine speed, engine load and one of coolant and vehicle speed, each
asked and answered; three long answers of 200 bytes that another tester reads (request, first frame, flow control, consecutive frames).
The fluid warms by 1 °C in 20 s and cools again, so that the thermometer, the window and the level check have their work.
"""
import sys

FRAMES_A_SLOT = 400
SLOT_US = 100_000
BROADCAST_IDS = [0x080 + 0x0B * i for i in range(60)]


def checked(data):
    return data + [sum(data) & 0xFF]


def broadcast(slot, place):
    identifier = BROADCAST_IDS[place % len(BROADCAST_IDS)]
    turn = slot * 5 + place // len(BROADCAST_IDS)
    kind = place % 4
    if kind == 0:
        data = checked([turn & 0x0F, 0x80 | (turn >> 4 & 0x7F), identifier & 0xFF, 0, 0x10, 0x27, 0x5A])
    elif kind == 1:
        data = [(turn * 7) >> 8 & 0xFF, (turn * 7) & 0xFF, 0x40, 0x1F, 0, 0, 0xFF, 0xFF]
    elif kind == 2:
        data = [90 + (slot // 600) % 40, 0x7D, 0x7D, 0, (turn >> 6) & 0xFF, 0]
    else:
        data = [(identifier * 31 + turn // 50) & 0xFF, 0, 1, 2]
    return identifier, data


def long_answer(number, seed):
    """Service 22 of an identifier that no decoder describes: 200 bytes of payload."""
    identifier = [0xF4, number]
    payload = [0x62, *identifier] + [(seed + 3 * i) & 0xFF for i in range(197)]
    frames = [(0x7E2, [0x03, 0x22, *identifier, 0, 0, 0, 0]), (0x7EA, [0x10, 200, *payload[:6]]), (0x7E2, [0x30, 0, 0, 0, 0, 0, 0, 0])]
    for index, start in enumerate(range(6, 200, 7), 1):
        part = payload[start:start + 7]
        frames.append((0x7EA, [0x20 | index & 0x0F, *part, *[0xAA] * (7 - len(part))]))
    return frames


def asked(pid, answer):
    return [(0x7DF, [0x02, 0x01, pid, 0, 0, 0, 0, 0]), (0x7E8, [2 + len(answer), 0x41, pid, *answer, *[0] * (5 - len(answer))])]


def diagnostic(slot):
    swing = slot // 200 % 120  # 1 °C in 20 s: up by 60 and down again
    fluid_c = 20 + (swing if swing < 60 else 120 - swing)
    rpm = 4 * (700 + slot % 50)
    frames = [(0x7E1, [0x03, 0x22, 0x1A, 0x05, 0, 0, 0, 0]), (0x7E9, [0x04, 0x62, 0x1A, 0x05, fluid_c + 40, 0, 0, 0])]
    frames += asked(0x0C, [rpm >> 8, rpm & 0xFF])
    frames += asked(0x04, [60 + slot % 40])
    frames += asked(0x0D, [0]) if slot % 2 else asked(0x05, [min(80 + slot // 300, 130)])
    for number in range(3):
        frames += long_answer(number, slot)
    return frames


def lines(frames):
    """In a slot the broadcast frames and the diagnostic ones take turns; equal distances in time."""
    written = 0
    slot = 0
    while written < frames:
        answers = diagnostic(slot)
        every = FRAMES_A_SLOT // len(answers)
        cyclic = 0
        for place in range(FRAMES_A_SLOT):
            if written == frames:
                return
            if place % every == 0 and place // every < len(answers):
                identifier, data = answers[place // every]
            else:
                identifier, data = broadcast(slot, cyclic)
                cyclic += 1
            seconds, micros = divmod(slot * SLOT_US + place * SLOT_US // FRAMES_A_SLOT, 1_000_000)
            yield f"({1_700_000_000 + seconds}.{micros:06d}) can0 {identifier:03X}#{bytes(data).hex().upper()}\n"
            written += 1
        slot += 1


def main():
    frames, path = int(sys.argv[1]), sys.argv[2]
    with open(path, "w", encoding="ascii", buffering=1 << 20) as file:
        file.writelines(lines(frames))


if __name__ == "__main__":
    main()
