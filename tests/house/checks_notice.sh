#!/usr/bin/env bash
# Each house check goes red on the fault that it is there for, and stays green on a tree without one.
set -euo pipefail
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
tree=$(mktemp -d)
trap 'rm -rf "$tree"' EXIT
wrong=0

fresh_tree() {
  rm -rf "${tree:?}"/*
  mkdir -p "$tree/src/core/item" "$tree/tests"
  cat >"$tree/src/core/item/good.cpp" <<'CPP'
#include "core/item/good.h"

#include <nlohmann/json.hpp>

// A comment may speak of std::chrono::system_clock and <thread>, and of printf(…).
const char* kText = "std::cout << time(nullptr)";
void Line::time(int at) {
  at_ = at;
}
CPP
  printf '#pragma once\n#include <string>\nint good();\n' >"$tree/src/core/item/good.h"
  printf '#!/bin/sh\ntrue\n' >"$tree/src/run.sh"
  chmod +x "$tree/src/run.sh"
  printf 'Run `bash src/demo.sh` and `bash tests/run.sh`, see [more](src/run.sh).\n' >"$tree/README.md"
  printf 'true\n' >"$tree/src/demo.sh"
  printf 'true\n' >"$tree/tests/run.sh"
  cp "$here/../../.clang-format" "$tree/"
}
# expect good|bad CHECK NAME: runs the check on the tree as it stands now
expect() {
  local status=0 run=(python3)
  [[ $2 == *.sh ]] && run=(bash)
  SOURCE=$tree PYTHONDONTWRITEBYTECODE=1 "${run[@]}" "$here/$2" >"$tree.out" 2>&1 || status=$?
  if { [ "$1" = good ] && [ $status -ne 0 ]; } || { [ "$1" = bad ] && [ $status -ne 1 ] && [ $status -ne 123 ]; }; then
    echo "$2 on '$3': expected $1, ended with $status:"
    sed 's/^/    /' "$tree.out"
    wrong=1
  fi
  rm -f "$tree.out"
}
# fault CHECK NAME FILE TEXT: the check must notice TEXT in FILE
fault() {
  fresh_tree
  mkdir -p "$(dirname "$tree/$3")"
  printf '%b' "$4" >"$tree/$3"
  expect bad "$1" "$2"
}

fresh_tree
for check in core_is_pure.py no_long_file.py names_no_machine.py tree_is_tidy.py formatted.sh; do
  expect good "$check" "nothing wrong"
done

core=src/core/item/bad.cpp
for include in '<sys/socket.h>' '<linux/can.h>' '<boost/asio.hpp>' '<spdlog/spdlog.h>' '<iostream>' '<fstream>' '<thread>' \
  '<unistd.h>' '<fcntl.h>' '"io/can_socket.h"' '"app/serve.h"'; do
  fault core_is_pure.py "include $include" $core "#include $include\n"
done
for line in 'auto t = std::chrono::system_clock::now();' 'auto t = std::chrono::steady_clock::now();' 'auto t = std::time(nullptr);' \
  'auto t = time(nullptr);' 'auto t = ::time(now);' 'clock_gettime(CLOCK_BOOTTIME, &t);' 'auto e = std::getenv("TZ");' 'std::random_device seed;' \
  'printf("x");' 'std::cerr << 1;' 'auto y = std::exp(x);' 'auto y = std::erfc(x);'; do
  fault core_is_pure.py "$line" $core "void f() { $line }\n"
done
fault core_is_pure.py "parser in a header" src/core/item/bad.h '#pragma once\n#include <nlohmann/json.hpp>\n'
fault no_long_file.py "501 lines" src/core/item/long.cpp "$(printf '// x\\n%.0s' $(seq 501))"
fault names_no_machine.py "a home folder" docs/a.md "see /ho""me/somebody/notes\n"
fault names_no_machine.py "a temporary file with a fixed name" src/a.sh "cd /t""mp/mine\n"
fault names_no_machine.py "a package host" src/a.sh "curl http://deb.""debian.org/debian\n"
fault names_no_machine.py "a private address" src/a.sh "ping 192.""168.1.20\n"
fault tree_is_tidy.py "unknown top-level name" notes.txt 'x\n'
fault tree_is_tidy.py "script without its bit" src/other.sh '#!/bin/sh\n'
fault tree_is_tidy.py "README without its commands" README.md 'nothing\n'
fault tree_is_tidy.py "link to nowhere" docs/a.md '[there](nowhere.md)\n'
fault tree_is_tidy.py "command that is not there" docs/a.md 'bash tests/gone.sh\n'
if command -v clang-format >/dev/null; then
  fault formatted.sh "wild spacing" src/core/item/bad.cpp 'int   f( ){return 1 ;}\n'
fi
[ $wrong -eq 0 ] && echo "every house check notices its faults"
exit $wrong
