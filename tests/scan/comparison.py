"""What the comparisons of recorded scans have in common."""

import sys


def run(peer, compare):
    """Called with RECORD_OF LEAST SCENARIO...: compares each scenario and ends the program; 1 when something differs, or when
    fewer values than LEAST were compared.

    compare(record_of, path, same)   same(where, ours, theirs) takes each pair of values
    """
    record_of, least, scenarios = sys.argv[1], int(sys.argv[2]), sys.argv[3:]
    compared, differing = 0, 0

    def same(where, ours, theirs):
        nonlocal compared, differing
        compared += 1
        if ours != theirs:
            differing += 1
            print(f"{where}: the scenario {ours!r}, {peer} {theirs!r}")

    for path in scenarios:
        compare(record_of, path, same)
    print(f"{compared} values compared with {peer}, {differing} differ")
    sys.exit(1 if differing or compared < least else 0)
