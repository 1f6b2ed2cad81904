#include "core/codes/code_file.h"
#include "fuzz/target.h"

namespace sumplog::fuzz {
namespace {

void take(Bytes bytes) {
  const auto file = parse_code_file(text_of(bytes), "fuzz.toml");
  if (!file) require(file.error().place.starts_with("fuzz.toml"), "a mistake without its place");
}
const Registered kTarget("code_file", take);

}  // namespace
}  // namespace sumplog::fuzz
