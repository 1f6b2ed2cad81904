#!/usr/bin/env bash
# Runs a lab with a program that has no other rights than these, as the service of the package runs it.
#   with_rights.sh none|net_admin SCRIPT [WORD]...
set -euo pipefail
lab=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
: "${SUMPLOG:?SUMPLOG must name the program}"
rights=${1:?none or net_admin} script=${2:?a script of this folder}
shift 2
case $rights in
  none) only=-all ;;
  net_admin) only=-all,+net_admin ;;
  *) echo "with_rights: '$rights' is neither none nor net_admin" >&2; exit 2 ;;
esac
narrowed=$(mktemp)
trap 'rm -f "$narrowed"' EXIT
printf '#!/bin/sh\nexec setpriv --no-new-privs --bounding-set=%s --inh-caps=%s --ambient-caps=%s "%s" "$@"\n' "$only" "$only" "$only" "$SUMPLOG" >"$narrowed"
chmod 755 "$narrowed"
SUMPLOG=$narrowed bash "$lab/$script" "$@"
