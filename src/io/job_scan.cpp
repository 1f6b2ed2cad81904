#include "io/job_scan.h"

#include <algorithm>
#include <utility>

#include "core/capture/candump_text.h"

namespace sumplog {
namespace {

// A frame's line has at most 200 bytes, every other one kMaxItemLine: a longer line is hashed and not looked
// at.
constexpr std::size_t kLongestLine = 1024;

/// Only a seal's line begins so: in every other item the text after `t` differs.
bool begins_like_a_seal(std::string_view line) {
  constexpr std::string_view kTime = "# {\"t\":";
  if (!line.starts_with(kTime)) return false;
  line.remove_prefix(kTime.size());
  line.remove_prefix(std::min(line.find_first_not_of("-.0123456789"), line.size()));
  return line.starts_with(",\"item\":\"seal\"");
}

}  // namespace

JobScan::JobScan(std::string expected_fingerprint) : expected_(std::move(expected_fingerprint)) {}

void JobScan::on_bytes(std::string_view bytes) {
  shape_.bytes += bytes.size();
  while (!bytes.empty()) {
    const std::size_t newline = bytes.find('\n');
    const bool whole = newline != std::string_view::npos;
    const std::string_view piece = bytes.substr(0, whole ? newline : bytes.size());
    if (overlong_ > 0 || partial_.size() + piece.size() > kLongestLine) {
      hash_.update(partial_);
      hash_.update(piece);
      overlong_ += partial_.size() + piece.size();
      partial_.clear();
      if (whole) {
        hash_.update("\n");
        on_overlong_line(std::exchange(overlong_, 0));
      }
    } else if (!whole) {
      partial_ += piece;
    } else if (partial_.empty()) {
      on_line(piece);
      hash_.update(bytes.substr(0, newline + 1));
    } else {
      partial_ += piece;
      on_line(partial_);
      partial_ += '\n';
      hash_.update(partial_);
      partial_.clear();
    }
    if (!whole) return;
    bytes.remove_prefix(newline + 1);
  }
}

void JobScan::on_end() {
  judge_bad_seal("");
  shape_.fragment_bytes = overlong_ + partial_.size();
  if (shape_.fragment_bytes > 0 && !shape_.changed && !shape_.closed_once && end_before_) {
    const auto seal = parse_seal(partial_);
    shape_.fragment_closes = seal && is_good(*seal, partial_);
  }
  hash_.update(partial_);
  partial_.clear();
  if (const auto at = frame_time()) shape_.last_at = at;
  shape_.end_is_last_line = end_before_ && shape_.fragment_bytes == 0;
  shape_.parts_open = parser_.parts_held() > 0;
  const bool more = shape_.lines > closing_line_ || shape_.fragment_bytes > 0;
  shape_.closed = shape_.closed_once && !shape_.changed && !more;
  // Nobody writes to a closed job: what stands behind the closing seal was put there by something else.
  if (shape_.closed_once && !shape_.changed && more)
    shape_.changed = LineRange{closing_line_ + 1, shape_.lines + (shape_.fragment_bytes > 0 ? 1 : 0)};
}

void JobScan::begin_line(std::uint64_t length) {
  ++shape_.lines;
  shape_.last_line_bytes = length;
}

void JobScan::on_overlong_line(std::uint64_t length) {
  judge_bad_seal("");
  begin_line(length);
  parser_.drop_parts();
  frame_.clear();
  line_before_known_ = false;
  end_before_ = false;
  line_start_ += length + 1;
}

void JobScan::on_line(std::string_view line) {
  begin_line(line.size());
  if (shape_.lines == 1) shape_.job_file = line == kJobFileMagic;
  judge_bad_seal(line);
  if (const auto seal = parse_seal(line); seal || begins_like_a_seal(line)) {
    on_seal(seal, line);
    parser_.drop_parts();
  } else {
    on_item_line(line);
  }
  line_start_ += line.size() + 1;
}

void JobScan::judge_bad_seal(std::string_view next_line) {
  if (!bad_seal_) return;
  const BadSeal bad = *std::exchange(bad_seal_, std::nullopt);
  ItemLineParser parser;
  const ParsedLine parsed = parser.on_line(next_line);
  const auto* torn = parsed.item ? std::get_if<Torn>(&*parsed.item) : nullptr;
  if (torn != nullptr && torn->bytes == bad.bytes) return;
  shape_.changed = bad.lines;
  shape_.closed_once = shape_.closed_once || bad.closing;
}

void JobScan::on_item_line(std::string_view line) {
  end_before_ = false;
  if (!line.starts_with("# ")) {
    parser_.drop_parts();
    frame_ = line;
    line_before_known_ = !line.empty();
    shape_.ended = false;
    return;
  }
  if (const auto at = frame_time()) shape_.last_at = at;
  frame_.clear();
  const ParsedLine parsed = parser_.on_line(line);
  line_before_known_ = parsed.item.has_value();
  if (!parsed.item) return;
  shape_.last_at = time_of(*parsed.item);
  end_before_ = std::holds_alternative<End>(*parsed.item);
  if (!std::holds_alternative<Torn>(*parsed.item)) shape_.ended = end_before_;
}

std::optional<TimePoint> JobScan::frame_time() const {
  if (frame_.empty()) return std::nullopt;
  const auto frame = parse_candump_line(frame_);
  if (!frame) return std::nullopt;
  return frame->at;
}

bool JobScan::is_good(const Seal& seal, std::string_view line) const {
  if (seal.bytes != line_start_ || seal_line(seal) != line || seal.sha256 != hash_.hex()) return false;
  // No hash covers the last seal's own line: its other members are checked above, its time is checked here.
  if (!line_before_known_) return true;
  const auto at = frame_.empty() ? shape_.last_at : frame_time();
  return !at || *at == seal.at;
}

void JobScan::on_seal(const std::optional<Seal>& seal, std::string_view line) {
  const bool closing = std::exchange(end_before_, false);
  // After a change every seal is bad, because each covers all bytes before it: only the first one says where.
  if (shape_.changed || shape_.closed_once) {
    shape_.closed_once = shape_.closed_once || closing;
    return;
  }
  if (!seal || !is_good(*seal, line)) {
    bad_seal_ = BadSeal{LineRange{shape_.seal_line + 1, shape_.lines}, line.size(), closing};
    return;
  }
  shape_.seal = seal;
  shape_.seal_line = shape_.lines;
  shape_.sealed_bytes = line_start_ + line.size() + 1;
  if (!expected_.empty() && seal->sha256 == expected_) shape_.expected_line = shape_.lines;
  shape_.closed_once = closing;
  if (closing) closing_line_ = shape_.lines;
}

}  // namespace sumplog
