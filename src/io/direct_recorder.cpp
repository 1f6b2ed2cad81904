#include "io/direct_recorder.h"

#include <utility>

namespace sumplog {

DirectRecorder::DirectRecorder(JobFile file) : file_(std::move(file)) {}

Result<Item> DirectRecorder::record(const Item& item) {
  if (file_.bytes() - file_.synced_bytes() >= kMaxUnsynced) {
    if (auto synced = sync(); !synced) return tl::unexpected(synced.error());
  }
  auto written = file_.append({&item, 1});
  if (!written) return tl::unexpected(written.error());
  return std::move(written->front());
}

Result<void> DirectRecorder::sync() {
  auto synced = file_.sync();
  if (!synced) return file_.recover_after_failed_sync();
  return synced;
}

Result<Item> DirectRecorder::close(TimePoint at) {
  auto end = record(End{at});
  if (!end) return end;
  if (auto synced = sync(); !synced) return tl::unexpected(synced.error());
  return end;
}

}  // namespace sumplog
