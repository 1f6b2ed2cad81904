"""Our candump and ASC logs as python-can reads them, and its logs as we read them.

python-can 4.1 keeps times as doubles: two microseconds are allowed. Known defects that are kept out of the comparison:
its ASC writer keeps neither the class of an error frame nor the bus of one, its ASC reader takes a CAN FD frame without
data for a remote frame, and its candump writer leaves out the length of a remote frame."""

import ref

try:
    import can
    from can.io.asc import ASCReader, ASCWriter
    from can.io.canutils import CanutilsLogReader, CanutilsLogWriter
except ImportError:
    print("python-can is not installed")
    raise SystemExit(ref.SKIP)

TOLERANCE_US = 2
folder = ref.Folder()


def to_message(frame):
    return can.Message(timestamp=frame.us / 1e6, arbitration_id=frame.id, is_extended_id=frame.extended,
                       is_remote_frame=frame.kind == "remote", is_error_frame=frame.kind == "error",
                       channel=frame.bus, is_fd=frame.fd, bitrate_switch=frame.brs, error_state_indicator=frame.esi,
                       dlc=frame.length, data=frame.data)


def from_message(message, bus):
    kind = "error" if message.is_error_frame else "remote" if message.is_remote_frame else "data"
    return ref.Frame(round(message.timestamp * 1e6), bus, message.arbitration_id, message.is_extended_id, kind,
                     message.is_fd, message.bitrate_switch, message.error_state_indicator, message.dlc,
                     bytes(message.data) if kind != "remote" else b"")


def same(name, got, expected):
    """Times within the tolerance, everything else equal."""
    got = [one._replace(us=other.us) if abs(one.us - other.us) <= TOLERANCE_US else one
           for one, other in zip(got, expected)] + got[len(expected):]
    ref.same(name, got, expected)


def without_error_content(frames):
    """An error frame as the ASC form keeps it: that there was one (asc2log.c: CAN_ERR_BUSERROR)."""
    return [f._replace(id=0x80, data=bytes(8)) if f.kind == "error" else f for f in frames]


frames = ref.make_frames(3, 500)
plain = [f for f in frames if f.kind != "error"]

# Ours, read by python-can. Its log reader gives error frames without their bytes: they are compared by tshark.
log = folder.file("ours.log", ref.ours(ref.candump_log(plain)))
same("our candump log as python-can reads it",
     [from_message(m, m.channel) for m in CanutilsLogReader(log)], plain)

asc = folder.file("ours.asc", ref.ours(ref.candump_log(plain), "asc"))
same("our ASC log as python-can reads it",
     [from_message(m, f"can{m.channel}") for m in ASCReader(asc, relative_timestamp=False)],
     [f._replace(kind="remote") if f.fd and f.length == 0 else f for f in plain])
errors = folder.file("errors.asc", ref.ours(ref.candump_log(frames), "asc"))
kinds = ["error" if m.is_error_frame else "frame" for m in ASCReader(errors)]
ref.same("error frames of our ASC log as python-can reads them", kinds,
         ["error" if f.kind == "error" else "frame" for f in frames])

# Its logs, read by us. The numbers in its text are exact to the microsecond.
path = folder.file("theirs.log")
with CanutilsLogWriter(path) as writer:
    for frame in plain:
        writer(to_message(frame))
same("python-can's candump log as we read it", ref.parse_candump(ref.ours(ref.content(path))),
     [f._replace(length=0) if f.kind == "remote" else f for f in plain])

path = folder.file("theirs.asc")
with ASCWriter(path) as writer:
    for frame in frames:
        writer(to_message(frame))
same("python-can's ASC log as we read it", ref.parse_candump(ref.ours(ref.content(path))),
     [f._replace(bus="can0") if f.kind == "error" else f for f in without_error_content(frames)])
