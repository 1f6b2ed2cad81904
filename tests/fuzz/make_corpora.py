#!/usr/bin/env python3
"""Makes the seed corpora of the fuzz targets out of the goldens.     make_corpora.py FOLDER

FOLDER/<target>/ gets one file a seed. Nothing is kept in the repository: the captures, decoders and scenarios are the source.
"""

import hashlib
import pathlib
import re
import struct
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
OUT = pathlib.Path(sys.argv[1])
# message_check.h, gap()
GAPS = [0, 1, 1000, 5000, 20000, 99999, 200000, 500000, 749999, 999999, 1000000, 1250001, 3000000, 5050000, None, 60000000]
LENGTHS = [12, 16, 20, 24, 32, 48, 64]
FRAME = re.compile(r"\((\d+)\.(\d{6})\) (\S+) ([0-9A-F]+)(#|##)([0-9A-FR]*)")
made = 0


def seed(target, data):
    global made
    if isinstance(data, str):
        data = data.encode()
    folder = OUT / target
    folder.mkdir(parents=True, exist_ok=True)
    (folder / hashlib.sha1(data).hexdigest()).write_bytes(data)
    made += 1


def parts(lines, size, most):
    """Some pieces of a long text: its beginning, and others spread over it."""
    step = max(1, len(lines) // most)
    return ["".join(lines[at:at + size]) for at in range(0, len(lines), step)][:most]


def frames(lines):
    for line in lines:
        match = FRAME.match(line)
        if match:
            seconds, micros, _, name, mark, data = match.groups()
            fd = mark == "##"
            yield (int(seconds) * 1000000 + int(micros), int(name, 16), len(name) == 8, fd,
                   bytes.fromhex(data[1:] if fd else data))


def gap(micros):
    """The step of the table that comes nearest."""
    return min((i for i in range(16) if GAPS[i] is not None), key=lambda i: abs(GAPS[i] - micros))


def with_length(data):
    return bytes([len(data) if len(data) <= 8 else 9 + LENGTHS.index(len(data))]) + data


def as_pcapng(some, order):
    def block(kind, body):
        body += b"\0" * (-len(body) % 4)
        total = struct.pack(order + "I", len(body) + 12)
        return struct.pack(order + "I", kind) + total + body + total

    out = block(0x0A0D0D0A, struct.pack(order + "IHHq", 0x1A2B3C4D, 1, 0, -1))
    out += block(1, struct.pack(order + "HHI", 227, 0, 0) + struct.pack(order + "HH", 2, 5) + b"vcan0\0\0\0" +
                 struct.pack(order + "HH", 0, 0))
    for at, number, extended, fd, data in some:
        packet = struct.pack(">IBBBB", number | (0x80000000 if extended else 0), len(data), 4 if fd else 0, 0, 0) + data
        out += block(6, struct.pack(order + "IIIII", 0, at >> 32, at & 0xFFFFFFFF, len(packet), len(packet)) + packet)
    return out


def as_pcap(some, order):
    out = struct.pack(order + "IHHiIII", 0xA1B2C3D4, 2, 4, 0, 0, 65535, 227)
    for at, number, extended, fd, data in some:
        packet = struct.pack(">IBBBB", number | (0x80000000 if extended else 0), len(data), 4 if fd else 0, 0, 0) + data
        out += struct.pack(order + "IIII", at // 1000000, at % 1000000, len(packet), len(packet)) + packet
    return out


def as_asc(some):
    lines = ["date Tue Nov 14 10:13:20.000 pm 2023", "base hex  timestamps absolute", "internal events logged"]
    first = some[0][0] if some else 0
    for at, number, extended, fd, data in some:
        name = f"{number:X}" + ("x" if extended else "")
        hexed = " ".join(f"{byte:02X}" for byte in data)
        if fd:
            lines.append(f" {(at - first) / 1e6:.6f} CANFD   1 Rx {name} 0 0 {len(data):x} {len(data)} {hexed} 0 0 1000 0 0 0 0 0")
        else:
            lines.append(f" {(at - first) / 1e6:.6f} 1  {name}  Rx   d {len(data)} {hexed}")
    return "\n".join(lines) + "\n"


def from_frames(some):
    seed("pcapng", as_pcapng(some, "<"))
    seed("pcapng", as_pcapng(some, ">"))
    seed("pcap", as_pcap(some, "<"))
    seed("pcap", as_pcap(some, ">"))
    seed("asc", as_asc(some))
    seed("capture", as_asc(some))
    seed("capture", as_pcapng(some, "<"))
    ids = [0x7DF, 0x7E0, 0x7E1, 0x7E8, 0x7E9, 0x7EF, 0x6F1, 0x612]
    long_ids = [0x18DB33F1, 0x18DA10F1, 0x18DAF110, 0x18DAF118]
    groups = [0xEC00, 0xEB00, None, None, 0xEA00, 0xEE00, 0xFECA, 0xFECB, 0xFEF8, 0xFEEC]
    script, receiver, transport, heavy = b"", b"\4\0", b"", b""
    asked = {}
    last = some[0][0] if some else 0
    for at, number, extended, fd, data in some:
        step, last = gap(at - last), at
        script += bytes([0x70 | step]) + struct.pack(">I", number | (0x80000000 if extended else 0)) + with_length(data) + b"\0"
        if number in (0x7E8, 0x7E9, 0x18DAF118):
            receiver += bytes([step]) + with_length(data)
        known = long_ids if extended else ids
        if number in known:
            transport += bytes([step, known.index(number) + (8 if extended else 0)]) + with_length(data)
        group = number >> 8 & 0x3FFFF
        group = group & 0x3FF00 if (group >> 8 & 0xFF) < 240 else group
        if extended and group in groups:
            heavy += bytes([step, groups.index(group)]) + with_length(data)
        # Question and answer in one frame each, as the interpreter gets them.
        if not fd and data and 0 < data[0] < 8:
            payload = data[1:1 + data[0]]
            if 0x7E0 <= number <= 0x7E7 or number == 0x7DF:
                asked[number] = payload
            elif 0x7E8 <= number <= 0x7EF and payload:
                question = asked.get(number - 8, asked.get(0x7DF, b"\1\x0C"))
                if payload[0] == (question[0] + 0x40) & 0xFF:
                    seed("interpreter", bytes([2, number & 7, len(question)]) + question + bytes([2, len(payload)]) + payload)
    for target, data in (("whole_way", script), ("redaction", script), ("isotp_receiver", receiver),
                         ("isotp_transport", transport), ("j1939", heavy)):
        if len(data) > 2:
            seed(target, data)


HEADER = """# sumplog-job 1
# {"t":1700000000.000000,"item":"settings","job":"00112233445566778899aabbccddeeff","program":"sumplog 0.1.0","time_zone":"UTC","values":{"window":"35:45"}}
"""
OTHER_ITEMS = """# {"t":1700000001.000000,"item":"entry","id":"a-1","name":"plug_out","fields":{}}
# {"t":1700000002.000000,"item":"link","bus":"can0","state":"down"}
# {"t":1700000003.000000,"item":"drops","bus":"can0","frames":7}
# {"t":1700000004.000000,"item":"clock","step":-3600.000000}
# {"t":1700000005.000000,"item":"scan","scan":"before","begun":true}
# {"t":1700000006.000000,"item":"other_tester","bus":"can0","id":"7E0"}
# {"t":1700000007.000000,"item":"torn","bytes":12}
# {"t":1700000008.000000,"item":"advance"}
# {"t":1700000009.000000,"item":"resume"}
# {"t":1700000010.000000,"item":"end"}
"""

for log in sorted(ROOT.glob("captures/*/*/capture.log")):
    lines = log.read_text().splitlines(keepends=True)
    for part in parts(lines, 40, 4):
        seed("candump", part)
        seed("capture", HEADER + part + OTHER_ITEMS)
        seed("job_file", HEADER + part)
    for part in parts(lines, 60, 5):
        from_frames(list(frames(part.splitlines())))
for shown in sorted(ROOT.glob("tests/**/item_text_test.cpp")) + sorted(ROOT.glob("docs/job_file.md")):
    found = re.findall(r"^#? ?\{.*\}$|^# \{.*\}$|R\"\((# \{.*?\})\)\"", shown.read_text(), re.M)
    seed("job_file", HEADER + "\n".join(one for one in found if one) + "\n" + OTHER_ITEMS)
seed("job_file", HEADER + OTHER_ITEMS)
seed("capture", HEADER + OTHER_ITEMS)
for csv in ("t_s,temp_c\n0,20\n1,20.5\n2,\n", "t_s,temp_c,rpm,speed_kmh,coolant_c\n0,34,800,0,80\n1,35,800,0,80\n900.5,46,,,\n"):
    seed("csv", csv)
    seed("capture", csv)

for events in sorted(ROOT.glob("captures/*/*/capture.events")) + sorted(ROOT.glob("captures/*/*/*.journal")):
    lines = events.read_text().splitlines(keepends=True)
    kinds = {}
    for line in lines:
        kinds.setdefault("".join(re.findall(r'"(\w+)":', line)), line)
    seed("event_reader", "".join(lines[:15]))
    for line in kinds.values():
        seed("event_reader", line)
for shown in sorted(ROOT.glob("tests/core/journal/*.cpp")) + [ROOT / "docs/journal.md"]:
    for line in re.findall(r'\{"t":.*\}', shown.read_text()):
        seed("event_reader", line)

for target, name in (("decoder", "signals.toml"), ("service_file", "service.toml"), ("code_file", "codes.toml")):
    for file in sorted(ROOT.glob("decoders/*/" + name)) + sorted(ROOT.glob("tests/**/*" + name)):
        text = file.read_text()
        seed(target, text[:16384])
        # One table at a time: small inputs are tried far more often.
        tables = re.split(r"(?m)^(?=\[\[?(?:signal|code|class|ecu|range|\w+)\]?\])", text)
        for table in tables[1:]:
            if len(tables[0]) + len(table) < 2000:
                seed(target, tables[0] + table)
for file in sorted(ROOT.glob("captures/*/*/scenario.toml")) + sorted(ROOT.glob("tests/**/*.toml")):
    seed("scenario", file.read_text()[:16384])

entries = re.findall(r'name = "(\w+)"\n(?:fields = (\{.*\}))?', (ROOT / "captures/demo-9/whole-job/scenario.toml").read_text())
objects = {'{}', '{"litres":4.5,"temp_c":38,"part":"drain"}', '{"mass_kg":3.2,"density_kg_per_m3":850,"by":"K. Example","ago_s":30}',
           '{"plate":"XX-1","vin":"SAMPLELABTEST0001","odometer_km":1000}', '{"flow":"thread","ml_in_10_s":12}',
           '{"stage":"drain","why":"none"}', '{"temp_c":40.5}', '{"condition":"level","holds":true}', '{"scan":"before"}'}
for match in re.findall(r"`(\w+)`", (ROOT / "docs/entries.md").read_text()):
    objects.add('{"%s":"1"}' % match)
for number in range(40):
    for one in sorted(objects)[number % 5::5]:
        seed("entries", bytes([number, 0]) + one.encode())
    seed("entries", bytes([number, 1]) + b"litres=4.5\nby=K. Example\nago_s=30\nstage=drain")

for request in ("GET / HTTP/1.1\r\nHost: 127.0.0.1:8723\r\n\r\n",
                "GET /api/course.svg?unit=F&width=800&minutes=30 HTTP/1.1\r\nHost: localhost:8723\r\nOrigin: http://localhost:8723\r\n\r\n",
                "POST /api/entries HTTP/1.1\r\nHost: 127.0.0.1:8723\r\nContent-Type: application/json\r\nContent-Length: 63\r\n\r\n"
                '{"id":"a-1","name":"fluid_out","fields":{"litres":4.5,"x":"y"}}',
                "POST /api/photos?id=a-4&of=pan HTTP/1.1\r\nHost: [::1]:8723\r\nContent-Type: image/png\r\nContent-Length: 3\r\n\r\nabc",
                "POST /api/jobs HTTP/1.1\r\nHost: 127.0.0.1:8723\r\nContent-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n"
                '12\r\n{"action":"close"}\r\n0\r\n\r\n',
                "GET /?token=secret HTTP/1.1\r\nHost: 192.0.2.7:8723\r\nCookie: a=1; b=2\r\nAuthorization: Bearer secret\r\n"
                "Sec-Fetch-Site: cross-site\r\n\r\n"):
    for piece in (0, 6, 255):
        seed("http", bytes([piece]) + request.encode())
for method, kind, rest in ((0, 0, "/"), (0, 0, "/page/js/words.js"), (0, 0, "/api/state?job=0011"), (0, 0, "/api/events?after=3"),
                           (0, 0, "/api/course.svg?width=720&height=320&unit=C&minutes=5"), (0, 0, "/api/setup"),
                           (1, 0, '/api/entries\n{"id":"a-1","name":"plug_out"}'), (1, 0, '/api/scan\n{"id":"a-3","scan":"before"}'),
                           (1, 0, '/api/entries\n{"id":"a-1","name":"intake","fields":{"plate":"XX 1","by":"\\u00e4"}}'),
                           (1, 1, "/api/photos?id=a-4&of=the%20pan&by=K+E\nbytes"), (1, 0, '/api/jobs\n{"action":"close","sign_over":"K"}'),
                           (3, 2, "/api/entries")):
    seed("http_routes", bytes([method, kind]) + rest.encode())

for which, texts in enumerate((("36.0@10:02:10±1", "41@+130", "-5.5@23:59:59+-0.5"),
                               ("7E1:1A00-1AFF", "7E1:00-FF", "6F1/12:1A05", "18DA18F1:F190"), ("35:45", "-5.5:3"),
                               ("P0711", "P0711-1F", "SPN 177", "SPN 177 FMI 3"), ("13.258199", "-0.5", "7"))):
    for text in texts:
        seed("typed_texts", bytes([which]) + text.encode())
for text in ("abc", "äöü€𝄞", "SB-XX 1", "photo/a.jpg", "../a", "\x00\x1f\"\\"):
    seed("utf8", text)

# Whole jobs in the form of job_script.h: warm-up through the window with everything that a level check waits for.
warm_up = b"".join(bytes([0xF5, 0x0C, 0x80, 0, 0x05, 60 + i, 0x05, 60 + i]) for i in range(40))
seed("whole_way", warm_up)
for number in range(40):
    entry = bytes([0xC7, number, number]) + bytes([1, 100] * 8)
    seed("whole_way", warm_up[:160] + entry + warm_up[160:])
    seed("redaction", warm_up[:64] + entry)
for number in range(12):
    seed("whole_way", warm_up[:80] + bytes([0xD7, number, 1, 2, 3, 4]) + warm_up[80:240])
# Words that a parser looks for, as it spells them itself: without them a fuzzer has to guess every letter.
WORDS = {"decoder": "src/core/decoder/*.cpp", "service_file": "src/core/decoder/*.cpp", "code_file": "src/core/codes/code_*.cpp",
         "scenario": "src/core/vehicle/scenario*.cpp", "event_reader": "src/core/journal/event_reader.cpp",
         "entries": "src/core/*/entry_*.*", "job_file": "src/core/item/*.cpp", "capture": "src/core/[ic]*/*.cpp",
         "http": "src/app/web_contract.cpp", "http_routes": "src/app/web_contract.cpp", "asc": "src/core/capture/asc_*"}
(OUT / "words").mkdir(parents=True, exist_ok=True)
for target, sources in WORDS.items():
    words = set()
    for file in ROOT.glob(sources):
        words.update(re.findall(r'(?<!include )"([A-Za-z0-9_/.-]{2,30})"', file.read_text()))
    (OUT / "words" / target).write_text("".join(f'"{word}"\n' for word in sorted(words)))
print(f"{made} seeds in {OUT}")
