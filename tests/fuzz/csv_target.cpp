#include "fuzz/reading_check.h"

namespace sumplog::fuzz {
namespace {

void take(Bytes bytes) {
  (void)check_reader(CaptureForm::csv, bytes);
}
const Registered kTarget("csv", take);

}  // namespace
}  // namespace sumplog::fuzz
