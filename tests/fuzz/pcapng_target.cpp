#include "fuzz/reading_check.h"

namespace sumplog::fuzz {
namespace {

void take(Bytes bytes) {
  check_writers(check_reader(CaptureForm::pcapng, bytes));
}
const Registered kTarget("pcapng", take);

}  // namespace
}  // namespace sumplog::fuzz
