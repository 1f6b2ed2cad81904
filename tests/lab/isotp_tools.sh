#!/usr/bin/env bash
# can-utils' ISO-TP tools and our transport on the same traffic.    isotp_tools.sh MESSAGES_OF [FOLDER]
set -euo pipefail
lab=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
messages_of=${1:?names the program messages_of}
shift
source "$lab/keep.sh"
python3 -c 'import random
random.seed(15765)
for size in (1, 6, 7, 8, 13, 14, 62, 111, 119, 500, 1000):
    print(" ".join("%02X" % random.randrange(256) for _ in range(size)))' >"$LAB_DIR/payloads"
status=0
bash "$lab/qemu.sh" --timeout 200 bash "$lab/guest/isotp_tools.sh" || status=$?
[ $status -eq 0 ] || exit $status
python3 -B "$lab/judge_isotp_tools.py" "$LAB_DIR" "$messages_of"
