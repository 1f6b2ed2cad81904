"""Our candump log through log2asc, our ASC log through asc2log, and their output as we read it.

can-utils 2020.11: without the locale of its date, asc2log counts from the current time, so only the distances to
the first frame are compared; log2asc keeps no class of an error frame, and with -f makes a data frame of it: none is
given to that."""

import ref

ref.need("log2asc", "asc2log")
folder = ref.Folder()
frames = ref.make_frames(4, 500)


def from_first(frames):
    return [f._replace(us=f.us - frames[0].us) for f in frames]


def without_error_content(frames):
    return [f._replace(id=0x80, data=bytes(8)) if f.kind == "error" else f for f in frames]


ours = folder.file("ours.log", ref.ours(ref.candump_log(frames)))
expected = without_error_content(frames)
for options in ((), ("-n",), ("-r",)):
    asc = ref.run("log2asc", *options, "-I", ours, "can0", "can1")
    # -n ends lines with CR LF; -r leaves out the length of a remote frame.
    ref.same(f"log2asc {' '.join(options)} read by us", ref.parse_candump(ref.ours(asc)),
             [f._replace(length=0) if f.kind == "remote" and "-r" in options else f for f in expected])
plain = [f for f in frames if f.kind != "error"]
asc = ref.run("log2asc", "-f", "-I", folder.file("plain.log", ref.candump_log(plain)), "can0", "can1")
ref.same("log2asc -f read by us", from_first(ref.parse_candump(ref.ours(asc))), from_first(plain))
asc = ref.run("log2asc", "-4", "-I", ours, "can0", "can1")
ref.same("log2asc -4, read by us", ref.parse_candump(ref.ours(asc)),
         [f._replace(us=f.us // 100 * 100) for f in expected])

asc = folder.file("ours.asc", ref.ours(ref.candump_log(frames), "asc"))
log = ref.run("asc2log", "-I", asc)
ref.same("our ASC log through asc2log", from_first(ref.parse_candump(log)), from_first(expected))
ref.same("asc2log's log, direction and all, read by us", ref.parse_candump(ref.ours(log)), ref.parse_candump(log))
