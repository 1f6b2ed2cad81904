#include "fuzz/reading_check.h"

namespace sumplog::fuzz {
namespace {

void take(Bytes bytes) {
  check_writers(check_reader(CaptureForm::pcap, bytes));
}
const Registered kTarget("pcap", take);

}  // namespace
}  // namespace sumplog::fuzz
