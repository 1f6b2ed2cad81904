"""Candump logs of diagnostic traffic, made frame by frame: the segmentation of ISO 15765-2 written a second time on purpose."""

PAD = 0xCC  # ISO 15765-2, usual filling of a classic frame


class Recording:
    """Writes candump lines; each frame comes `gap_ms` after the one before."""

    def __init__(self, start_us=1_700_000_000_000_000, gap_ms=1, interface="can0"):
        self.now_us = start_us
        self.gap_us = gap_ms * 1000
        self.interface = interface
        self.lines = []

    def pause(self, ms):
        self.now_us += ms * 1000

    def frame(self, can_id, data):
        self.now_us += self.gap_us
        seconds, micros = divmod(self.now_us, 1_000_000)
        name = f"{can_id:03X}" if can_id <= 0x7FF else f"{can_id:08X}"
        self.lines.append(f"({seconds}.{micros:06d}) {self.interface} {name}#{bytes(data).hex().upper()}")

    def single(self, can_id, payload):
        assert 1 <= len(payload) <= 7
        self.frame(can_id, bytes([len(payload)]) + payload + bytes([PAD]) * (7 - len(payload)))

    def first(self, can_id, payload):
        """First frame of a longer message; returns the consecutive frames that are still to be sent."""
        assert 8 <= len(payload) <= 4095
        self.frame(can_id, bytes([0x10 | len(payload) >> 8, len(payload) & 0xFF]) + payload[:6])
        rest = payload[6:]
        parts = [rest[at:at + 7] for at in range(0, len(rest), 7)]
        return [bytes([0x20 | (number + 1) % 16]) + part.ljust(7, bytes([PAD])) for number, part in enumerate(parts)]

    def flow_control(self, can_id):
        """Clear to send everything without a pause."""
        self.frame(can_id, bytes([0x30, 0, 0]) + bytes([PAD]) * 5)

    def message(self, can_id, payload, flow_control_id):
        if len(payload) <= 7:
            self.single(can_id, payload)
            return
        consecutive = self.first(can_id, payload)
        self.flow_control(flow_control_id)
        for frame in consecutive:
            self.frame(can_id, frame)

    def exchange(self, request_id, request, response_id, response, flow_control_id):
        self.single(request_id, request)
        self.message(response_id, response, flow_control_id)
        self.pause(100)

    def write(self, path):
        with open(path, "w", encoding="ascii") as file:
            file.write("\n".join(self.lines) + "\n")
