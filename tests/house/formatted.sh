#!/usr/bin/env bash
# Every C++ file looks as .clang-format says. To mend one: clang-format -i FILE
set -euo pipefail
cd "${SOURCE:?SOURCE names the folder with the sources}"
command -v clang-format >/dev/null || { echo "clang-format is not installed"; exit 77; }
find src tests \( -name '*.h' -o -name '*.cpp' \) -print0 | xargs -0 --no-run-if-empty clang-format --dry-run -Werror
