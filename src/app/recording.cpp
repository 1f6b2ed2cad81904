#include "app/recording.h"

#include <algorithm>
#include <iostream>

#include "app/job_opening.h"

namespace sumplog {
namespace {

bool opens_a_job(const Item& item) {
  return std::holds_alternative<Settings>(item) || std::holds_alternative<DecoderText>(item);
}

}  // namespace

Result<Recording> Recording::open(const std::string& path, const ProgramSettings& settings) {
  auto file = CaptureFile::open(path);
  if (!file) return tl::unexpected(file.error());
  Recording recording(std::move(*file), settings);
  if (auto begun = recording.begin(); !begun) return tl::unexpected(begun.error());
  return recording;
}

Result<void> Recording::begin() {
  auto first = file_.next();
  if (!first) return tl::unexpected(first.error());
  is_job_ = *first && std::holds_alternative<Settings>(**first);
  const TimePoint at = *first ? time_of(**first) : TimePoint{};
  // Checked also for a job file: a wrong setting in the call must not pass because it is not used.
  auto opening = opening_items(*settings_, "capture", at);
  if (!opening) return tl::unexpected(opening.error());
  if (!is_job_) {
    ahead_.assign(opening->begin(), opening->end());
    if (*first) ahead_.push_back(std::move(**first));
    return {};
  }
  // A job file brings its own header; of the call only what it names goes behind it.
  Item* item = *first;
  while (item != nullptr && opens_a_job(*item)) {
    ahead_.push_back(std::move(*item));
    const auto more = file_.next();
    if (!more) return tl::unexpected(more.error());
    item = *more;
  }
  for (Item& added : *opening) {
    const auto* text = std::get_if<DecoderText>(&added);
    if (text == nullptr || (settings_->value("decoder") && !text->name.starts_with("obd-generic/")))
      ahead_.push_back(std::move(added));
  }
  if (item != nullptr) ahead_.push_back(std::move(*item));
  return {};
}

Result<const Item*> Recording::next(const PassBy& pass) {
  const Item* item = nullptr;
  if (!ahead_.empty()) {
    at_hand_ = std::move(ahead_.front());
    ahead_.pop_front();
    item = &*at_hand_;
  } else {
    const auto read = next_of_file(pass);
    if (!read) return tl::unexpected(read.error());
    item = *read;
  }
  if (item != nullptr) {
    last_ = std::max(last_, time_of(*item));
    if (std::holds_alternative<End>(*item)) ended_ = true;
    return item;
  }
  if (is_job_ || ended_) return nullptr;
  ended_ = true;
  at_hand_ = End{last_};
  return &*at_hand_;
}

Result<const Item*> Recording::next_of_file(const PassBy& pass) {
  TimePoint latest = TimePoint::min();
  for (;;) {
    const auto read = file_.next();
    if (!read) return tl::unexpected(read.error());
    const auto* const frame = *read == nullptr ? nullptr : std::get_if<CanFrame>(*read);
    if (frame != nullptr && pass.covers(*frame)) {
      latest = std::max(latest, frame->at);
      continue;
    }
    if (latest != TimePoint::min()) {
      flow_.on_passed(latest);
      last_ = std::max(last_, latest);
    }
    return *read;
  }
}

ExitStatus Recording::report_ending() const {
  const Ending ending = file_.ending();
  switch (ending.kind) {
    case EndKind::clean: return ExitStatus::done;
    case EndKind::torn:
      std::cerr << "sumplog: " << file_.place() << ':' << ending.line << ": " << ending.why << " ("
                << ending.bytes << " bytes were not used)\n";
      return ExitStatus::done;
    case EndKind::corrupt:
      std::cerr << "sumplog: " << file_.place() << ':' << ending.line << ": " << ending.why << " ("
                << ending.bad_records << (ending.bad_records == 1 ? " record was" : " records were")
                << " not used)\n";
      return ExitStatus::wrong;
  }
  return ExitStatus::failed;
}

}  // namespace sumplog
