#!/usr/bin/env bash
# The one list of Debian 12 packages that sumplog needs.     bash src/setup.sh [build|test]
# build  compiler, build system and libraries (default); test  adds the reference programs and the kernels of the tests.
# Needs root. Packages that are already there cost one look-up, no download.
set -euo pipefail

build_packages=(
  g++ cmake ninja-build pkg-config ca-certificates
  libboost1.81-dev       # Asio and Beast: network and serial input and output
  libsocketcan-dev       # bit rate, state and counters of a CAN link
  libspdlog-dev          # log of the program itself
  libcli11-dev           # command line
  libtomlplusplus-dev    # decoder, service and scenario files
  libexpected-dev        # tl::expected
  nlohmann-json3-dev     # reading JSON (writing is our own, with fixed decimals)
  libssl-dev             # SHA-256 of the seals
  libarchive-dev         # a job and its photos as one tar file
  libqrencode-dev        # the page's address as a QR code
  libsoci-dev libsqlite3-dev   # the index of all jobs, in SQLite or PostgreSQL
)
test_packages=(
  libgtest-dev libgmock-dev
  clang clang-format clang-tidy
  git iproute2 jq procps
  can-utils tshark python3 python3-scapy python3-can   # reference decoders
  postgresql sqlite3                                   # a throw-away server for the index; its other reader
  zbar-tools                                           # reads the QR code of the page's address
  poppler-utils tidy libxml2-utils                     # the report on paper, and its HTML
  time libbenchmark-dev                                    # times of the parts
  valgrind                                             # what reads memory that was never written
  libgsl-dev                                           # reference for the exponential fit
  user-mode-linux kmod debootstrap                     # a real kernel with SocketCAN as a process; an empty Debian
  dpkg-dev lintian file systemd udev mandoc man-db zsh  # the package, and who judges what is in it
  chromium fonts-dejavu-core nodejs npm                # the page in a real browser; npm installs what drives and judges it
  qemu-system-x86 busybox-static cpio xz-utils         # a machine with two CAN controllers and the kernel's ISO-TP sockets
)

what=${1:-build}
case $what in
  build) packages=("${build_packages[@]}") ;;
  test) packages=("${build_packages[@]}" "${test_packages[@]}") ;;
  *) echo "setup.sh: '$what' is neither build nor test" >&2; exit 2 ;;
esac

missing=()
for package in "${packages[@]}"; do
  # Node.js from elsewhere brings npm with it, and does not go together with Debian's.
  if [ "$package" = npm ] && command -v npm >/dev/null; then continue; fi
  status=$(dpkg-query -W -f '${Status}' "$package" 2>/dev/null || true)
  [ "$status" = "install ok installed" ] || missing+=("$package")
done
[ ${#missing[@]} -eq 0 ] && exit 0

if [ "$(id -u)" -ne 0 ]; then
  echo "setup.sh: these Debian packages are missing and only root can install them:" >&2
  echo "  apt-get install --no-install-recommends ${missing[*]}" >&2
  exit 1
fi
export DEBIAN_FRONTEND=noninteractive
apt-get update
apt-get install -y --no-install-recommends "${missing[@]}"
