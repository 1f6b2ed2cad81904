#include "fuzz/reading_check.h"

namespace sumplog::fuzz {
namespace {

void take(Bytes bytes) {
  check_writers(check_reader(CaptureForm::asc, bytes));
}
const Registered kTarget("asc", take);

}  // namespace
}  // namespace sumplog::fuzz
