#include "fuzz/reading_check.h"

namespace sumplog::fuzz {
namespace {

void take(Bytes bytes) {
  check_writers(check_reader(CaptureForm::candump, bytes));
}
const Registered kTarget("candump", take);

}  // namespace
}  // namespace sumplog::fuzz
