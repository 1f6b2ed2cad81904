#include "io/job_check.h"

#include <algorithm>

#include "core/capture/job_reader.h"
#include "core/item/entry_names.h"
#include "core/job/entry_fields.h"
#include "core/job/setting.h"

namespace sumplog {

JobCheck::JobCheck(std::string_view expected_fingerprint)
    : scan_(std::string(expected_fingerprint)),
      reader_(make_job_reader()),
      has_expectation_(!expected_fingerprint.empty()) {}

void JobCheck::on_bytes(std::string_view bytes) {
  scan_.on_bytes(bytes);
  reader_->on_bytes(bytes);
  take_items();
}

void JobCheck::on_end() {
  scan_.on_end();
  reader_->on_end();
  take_items();
}

void JobCheck::take_items() {
  while (const auto item = reader_->next()) on_item(*item);
}

void JobCheck::on_item(const Item& item) {
  if (const auto* settings = std::get_if<Settings>(&item); settings != nullptr && first_) {
    began_ = settings->at;
    job_ = settings->job;
    redacted_ = std::any_of(settings->values.begin(), settings->values.end(),
                            [](const auto& one) { return one.first == setting::kRedacted; });
  } else if (const auto* entry = std::get_if<Entry>(&item); entry != nullptr && entry->name == kPhoto) {
    if (auto file = text_field(*entry, "file")) {
      std::erase_if(photos_, [&](const ListedPhoto& one) { return one.file == *file; });
      photos_.push_back({std::move(*file), text_field(*entry, "sha256").value_or("")});
    }
  } else if (const auto* bad = std::get_if<Unreadable>(&item)) {
    last_unreadable_ = bad->line;
  }
  first_ = false;
}

Verification JobCheck::verification() const {
  const JobShape& shape = scan_.shape();
  Verification result;
  result.state = shape.changed              ? SealState::changed
                 : shape.closed             ? SealState::closed
                 : shape.fragment_bytes > 0 ? SealState::torn
                                            : SealState::open;
  result.bytes = shape.bytes;
  result.lines = shape.lines;
  result.unsealed_bytes = shape.changed ? 0 : shape.bytes - shape.sealed_bytes;
  result.fragment_bytes = shape.fragment_bytes;
  result.changed = shape.changed;
  result.fingerprint = shape.seal ? shape.seal->sha256 : "";
  result.sealed_line = shape.seal_line;
  result.expected_line = shape.expected_line;
  result.expected = has_expectation_;
  result.redacted = redacted_;
  // Before the last seal it was written so; behind it no seal speaks for it.
  if (last_unreadable_ > shape.seal_line && !shape.changed) result.unreadable_line = last_unreadable_;
  return result;
}

}  // namespace sumplog
