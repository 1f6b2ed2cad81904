// The entry that libFuzzer calls; one target is linked with it.

#include <cstddef>
#include <cstdint>

#include "fuzz/target.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const sumplog::fuzz::Target target = sumplog::fuzz::targets().at(0);
  target.take({data, size});
  return 0;
}
