#include "core/decoder/service_file.h"
#include "fuzz/target.h"

namespace sumplog::fuzz {
namespace {

void take(Bytes bytes) {
  const auto file = parse_service_file(text_of(bytes), "fuzz.toml");
  if (!file) require(file.error().place.starts_with("fuzz.toml"), "a mistake without its place");
}
const Registered kTarget("service_file", take);

}  // namespace
}  // namespace sumplog::fuzz
