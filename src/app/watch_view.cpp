#include "app/watch_view.h"

#include <cmath>
#include <nlohmann/json.hpp>
#include <vector>

#include "core/drawing/html_writer.h"
#include "core/item/json_line.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

using Json = nlohmann::json;

// The status is written once a second: so what is lost is said within three.
constexpr double kFresh_s = 2;

std::string text_at(const Json& object, const char* key) {
  const auto found = object.find(key);
  return found != object.end() && found->is_string() ? found->get<std::string>() : std::string();
}
std::optional<double> number_at(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end() || !found->is_number()) return std::nullopt;
  return found->get<double>();
}
std::vector<std::string> texts_at(const Json& object, const char* key) {
  std::vector<std::string> texts;
  if (const auto found = object.find(key); found != object.end() && found->is_array())
    for (const Json& one : *found)
      if (one.is_string()) texts.push_back(one.get<std::string>());
  return texts;
}

std::string minutes(double s) {
  const auto whole = static_cast<long>(std::lround(s));
  return std::to_string(whole / 60) + (whole % 60 < 10 ? ":0" : ":") + std::to_string(whole % 60);
}

/// "5:27", the likely one of [low, likely, high]; empty: it never comes, or nobody knows.
std::string likely(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end() || !found->is_array() || found->size() != 3 || !(*found)[1].is_number())
    return {};
  return minutes((*found)[1]);
}

/// What the journal says of a kind that has its own words; the others are told by their own keys.
std::string words_of(const Json& line, const std::string& kind) {
  const std::string why = joined(texts_at(line, "why"), "; ");
  const std::string reason = text_at(line, "why");
  if (kind == "window")
    return "window: " + text_at(line, "from") + " -> " + text_at(line, "to") +
           (reason.empty() ? "" : " (" + reason + ")");
  if (kind == "check") return "level check: " + text_at(line, "state") + (why.empty() ? "" : ": " + why);
  if (kind == "cue") return "** " + text_at(line, "text");
  if (kind == "stage")
    return "stage " + text_at(line, "stage") + " " + text_at(line, "change") +
           (reason.empty() ? "" : ": " + reason);
  if (kind == "entry")
    return "entry " + text_at(line, "name") + (line.contains("fields") ? " " + line["fields"].dump() : "");
  if (kind == "verdict") return "conditions " + text_at(line, "conditions") + (why.empty() ? "" : ": " + why);
  if (kind == "hold")
    return "selector " + text_at(line, "position") +
           (line.value("enough", false) ? " held" : " held too short");
  if (kind == "gap") return "gap in the readings: " + reason;
  if (kind == "loss") return "lost " + text_at(line, "ecu") + ": " + reason;
  if (kind == "vehicle")
    return "unit " + text_at(line, "ecu") + " " + text_at(line, "vin") + text_at(line, "name") +
           text_at(line, "state");
  if (kind == "codes" && line.contains("codes") && line["codes"].is_array()) {
    std::vector<std::string> codes;
    for (const Json& one : line["codes"])
      if (one.is_object()) codes.push_back(text_at(one, "code"));
    return "codes of " + text_at(line, "ecu") + ": " + (codes.empty() ? "none told" : joined(codes, " "));
  }
  if (kind == "codes" && line.contains("complete"))
    return "scan " + text_at(line, "scan") +
           (line.value("complete", false) ? ": complete in the units asked" : ": not complete: " + why);
  if (kind == "sums") return "sums of " + text_at(line, "of");
  return kind;
}

}  // namespace

std::string WatchView::on_line(std::string_view text) {
  const Json line = Json::parse(text, nullptr, false);
  if (!line.is_object()) return {};
  const std::string kind = text_at(line, "kind");
  if (kind == "thermal") {
    thermal_at_s_ = number_at(line, "t");
    temp_c_ = number_at(line, "temp_c");
    rate_c_per_min_ = number_at(line, "rate_c_per_min");
    window_ = text_at(line, "window");
    window_why_ = text_at(line, "why");
    const std::string enter = likely(line, "enter_in_s");
    const std::string stay = likely(line, "stay_s");
    ahead_.clear();
    if (window_ == "inside" && !stay.empty()) ahead_ = "ends in " + stay;
    if (window_ != "inside" && !enter.empty()) ahead_ = "starts in " + enter;
    return {};
  }
  if (kind == "reading" && text_at(line, "quality") != "by hand") return {};
  if (kind == "check") {
    const std::vector<std::string> why = texts_at(line, "why");
    check_ = text_at(line, "state");
    check_why_ = why.empty() ? "" : why.front();
  }
  std::string said = kind == "reading"
                         ? "read by hand: " + fixed(number_at(line, "value").value_or(0), 1) + " °C"
                         : words_of(line, kind);
  for (char& c : said)
    if (static_cast<unsigned char>(c) < ' ' || c == 0x7F) c = ' ';  // a terminal obeys control characters
  return shortened(said, kColumns - 1);
}

bool WatchView::live(double now_s) const {
  return thermal_at_s_ && temp_c_ && now_s - *thermal_at_s_ <= kFresh_s;
}

std::string WatchView::check(double now_s) const {
  return live(now_s) ? check_ : std::string();
}

std::string WatchView::status(double now_s) const {
  if (!live(now_s)) {
    const bool told = thermal_at_s_ && now_s - *thermal_at_s_ <= kFresh_s && !window_why_.empty();
    return shortened("no live reading" + (told ? ": " + window_why_ : std::string()), kColumns - 1);
  }
  const std::string head = fixed(*temp_c_, 1) + " °C " + window_ + "; check " + check_;
  std::string tail;
  if (!ahead_.empty()) tail += "; " + ahead_;
  if (rate_c_per_min_) tail += "; " + fixed(*rate_c_per_min_, 1) + " °C/min";
  tail += "; " + fixed(std::max(0.0, now_s - *thermal_at_s_), 1) + " s old";
  // The reason gets what room is left: its event line has all of it.
  constexpr std::size_t kLeast = 8;
  const std::size_t used = columns_of(head) + columns_of(tail) + 4;
  std::string reason;
  if (!check_why_.empty() && used + kLeast < kColumns) reason = ": " + shortened(check_why_, kColumns - used);
  return shortened(head + reason + tail, kColumns - 1);
}

std::optional<EventLines::One> EventLines::next() {
  while (true) {
    const std::size_t end = buffer_.find("\n\n");
    if (end == std::string::npos) return std::nullopt;
    const std::string block = buffer_.substr(0, end);
    buffer_.erase(0, end + 2);
    One one;
    for (std::size_t begin = 0; begin < block.size();) {
      const std::size_t stop = std::min(block.find('\n', begin), block.size());
      const std::string_view row = std::string_view(block).substr(begin, stop - begin);
      if (row.starts_with("id: ")) one.id = std::strtoull(std::string(row.substr(4)).c_str(), nullptr, 10);
      if (row.starts_with("data: ")) one.data += row.substr(6);
      begin = stop + 1;
    }
    if (!one.data.empty()) return one;
  }
}

}  // namespace sumplog
