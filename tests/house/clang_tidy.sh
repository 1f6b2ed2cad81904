#!/usr/bin/env bash
# clang-tidy over the core, oldest check first, as many files as fit into the time given.
#   clang_tidy.sh BUILD_FOLDER SECONDS
# Files changed most recently come first, so that a short run sees what is new. Exit 1 at the first file with a finding.
set -euo pipefail
build=$1
seconds=$2
cd "${SOURCE:?SOURCE names the folder with the sources}"
command -v clang-tidy >/dev/null || { echo "clang-tidy is not installed"; exit 77; }

newest_first() {
  if ! git -c safe.directory='*' log --format= --name-only -- src/core 2>/dev/null | awk '/\.cpp$/ && !seen[$0]++'; then
    find src/core -name '*.cpp'
  fi
}
checked=0
total=$(find src/core -name '*.cpp' | wc -l)
while IFS= read -r file; do
  [ -f "$file" ] || continue
  [ "$SECONDS" -lt "$seconds" ] || break
  clang-tidy --quiet -p "$build" "$file" 2>/dev/null || { echo "clang-tidy: $file has findings, above"; exit 1; }
  checked=$((checked + 1))
done < <(newest_first)
echo "clang-tidy: $checked of $total core files in $SECONDS s"
[ "$checked" -gt 0 ]
