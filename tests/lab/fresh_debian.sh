#!/usr/bin/env bash
# The two README commands on a machine that has only Debian 12, root and the repository: an empty folder made by debootstrap.
#   tests/lab/fresh_debian.sh [demo|tests|twice|both]        default: both; needs root, the package debootstrap and a Debian mirror
#   twice: the tests, and once more
# Tests what is committed: the repository is cloned into the folder. DEBIAN_MIRROR names the mirror; otherwise the first one
# of this machine's own package sources is taken.
set -euo pipefail
what=${1:-both}
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/../.." && pwd)
. "$root/tests/lab/empty_debian.sh"
git -c safe.directory='*' clone --quiet --no-hardlinks "$root" "$debian/root/sumplog"

# As a person would type it in the cloned folder.
in_clone() { inside sh -c 'cd "$HOME/sumplog" && exec "$@"' sh "$@"; }
case $what in
  demo) in_clone bash src/demo.sh --once ;;
  tests) in_clone bash tests/run.sh ;;
  twice)
    in_clone bash tests/run.sh
    in_clone bash tests/run.sh
    ;;
  both)
    in_clone bash src/demo.sh --once
    in_clone bash tests/run.sh
    ;;
  *) echo "fresh_debian: '$what' is none of demo, tests, twice, both" >&2; exit 2 ;;
esac
echo "--- fresh Debian 12: $what ended well"
