#include "core/redact/redactor.h"

#include <algorithm>
#include <string_view>

#include "core/diagnostics/interpreter.h"
#include "core/diagnostics/vin.h"
#include "core/item/compared_form.h"
#include "core/j1939/identifier.h"
#include "core/j1939/transport.h"
#include "core/job/setting.h"

namespace sumplog {
namespace {

constexpr std::size_t kShortestPiece =
    4;  // own choice; with a letter: serial and part numbers share "0001" easily
constexpr std::size_t kShortestOfDigits = 6;   // own choice
constexpr std::size_t kShortestInCarrier = 2;  // of frames that are known to carry a VIN in pieces
constexpr std::uint8_t kNoValue = 0xFF;

bool is_digit(std::uint8_t byte) {
  return byte >= '0' && byte <= '9';
}
bool is_capital(std::uint8_t byte) {
  return byte >= 'A' && byte <= 'Z';
}
bool is_small(std::uint8_t byte) {
  return byte >= 'a' && byte <= 'z';
}
bool is_alphanumeric(std::uint8_t byte) {
  return is_digit(byte) || is_capital(byte) || is_small(byte);
}
char capital(std::uint8_t byte) {
  return static_cast<char>(is_small(byte) ? byte - 'a' + 'A' : byte);
}

/// What stands in the place of one byte of a serial number.
char covered_serial(std::uint8_t byte) {
  constexpr std::uint8_t kFirstPrintable = 0x20;
  constexpr std::uint8_t kLastPrintable = 0x7E;
  if (is_digit(byte)) return '0';
  if (is_capital(byte)) return 'X';
  if (is_small(byte)) return 'x';
  const bool printable = byte >= kFirstPrintable && byte <= kLastPrintable;
  return printable || byte == kNoValue ? static_cast<char>(byte) : '\0';
}

bool all_the_same(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [&](char c) { return c == text.front(); });
}

std::vector<BytePlace> places_of(std::uint64_t frame, std::size_t count) {
  std::vector<BytePlace> places;
  for (std::size_t at = 0; at < count; ++at) places.push_back({frame, static_cast<std::uint8_t>(at)});
  return places;
}

}  // namespace

// --- first reading ---

void Redactor::learn(const Item& item) {
  before_.on_item(item);
  if (first_) begins_with_settings_ = std::holds_alternative<Settings>(item);
  first_ = false;
  if (const auto* entry = std::get_if<Entry>(&item)) entries_.learn(*entry);
  if (const auto* frame = std::get_if<CanFrame>(&item)) {
    if (!trace_) begin_trace();
    std::vector<TracedMessage> messages;
    trace_->on_frame(frame_++, *frame, messages);
    for (const TracedMessage& message : messages) learn_message(message);
  }
}

void Redactor::begin_trace() {
  book_ = AddressBook(named_units(before_.finish().decoders));
  trace_.emplace(book_);
  frame_ = 0;
}

void Redactor::learn_message(const TracedMessage& message) {
  if (message.orphan) {
    cover_orphan(message);
    return;
  }
  if (message.is_request) {
    if (auto asked = asked_identifiers(message.payload); !asked.empty())
      asked_[message.from.bus] = std::move(asked);
  }
  const auto ranges = message.group ? identifying_ranges_of_group(*message.group, message.payload)
                                    : identifying_ranges(message.payload, asked_[message.from.bus]);
  for (const IdentifyingRange& range : ranges) cover(message, range);
  if (message.places.size() > 1 && message.places.front().frame != message.places.back().frame)
    identifies_[message.from] = !ranges.empty();
}

void Redactor::cover(const TracedMessage& message, const IdentifyingRange& range) {
  const auto replace = [&](std::size_t i, char with) { put(message.places[i], message.payload[i], with); };
  const std::size_t end = range.at + range.length;
  switch (range.kind) {
    case IdentifyingKind::serial:
      for (std::size_t i = range.at; i < end; ++i) replace(i, covered_serial(message.payload[i]));
      return;
    case IdentifyingKind::number: {
      constexpr std::uint8_t kNotIdentity =
          0xE0;  // SAE J1939-81: the third byte's upper bits are the manufacturer's
      for (std::size_t i = range.at; i < end; ++i)
        replace(i, static_cast<char>(i + 1 == end ? message.payload[i] & kNotIdentity : 0));
      return;
    }
    case IdentifyingKind::vin: break;
  }
  std::string text;
  for (std::size_t i = range.at; i < end; ++i)
    if (is_alphanumeric(message.payload[i])) text += static_cast<char>(message.payload[i]);
  // A unit that was never told one has 000…, or FFF…: that is worth knowing.
  if (text.empty() || all_the_same(text)) return;
  const std::string filler = vins_.filler(text);
  std::size_t at = 0;
  for (std::size_t i = range.at; i < end; ++i)
    if (is_alphanumeric(message.payload[i])) replace(i, filler[at++]);
}

void Redactor::cover_orphan(const TracedMessage& message) {
  // A piece of a message whose beginning was lost. No core gives anything on its bytes: it is a loss, whatever they are.
  const auto known = identifies_.find(message.from);
  if (known != identifies_.end() && !known->second) return;
  for (std::size_t i = 0; i < message.payload.size(); ++i)
    if (is_alphanumeric(message.payload[i]))
      put(message.places[i], message.payload[i], covered_serial(message.payload[i]));
}

Result<void> Redactor::learned() {
  if (!begins_with_settings_)
    return fault("not a job file: it does not begin with settings", {},
                 "only a job that sumplog recorded is redacted");
  if (!trace_) begin_trace();
  std::vector<TracedMessage> messages;
  trace_->on_end(messages);
  for (const TracedMessage& message : messages) learn_message(message);
  // Whole VINs first: a typed end of one is then known as such.
  for (const std::string& typed : entries_.typed_vins())
    if (is_vin(compared_form(typed))) (void)vins_.filler(typed);
  for (const std::string& typed : entries_.typed_vins()) (void)vins_.filler(typed);
  for (const auto& [vin, filler] : vins_.known()) entries_.secrets().add(vin);
  for (const std::string& typed : vins_.others()) entries_.secrets().add(typed);
  count_.vins = vins_.known().size();
  entries_.keep_words_of(before_.finish());
  begin_trace();
  return {};
}

// --- second reading ---

void Redactor::search(const Item& item) {
  const auto* frame = std::get_if<CanFrame>(&item);
  if (frame == nullptr || vins_.known().empty()) return;
  const std::uint64_t number = frame_++;
  std::vector<TracedMessage> messages;
  trace_->on_frame(number, *frame, messages);
  for (const TracedMessage& message : messages)
    (void)cover_vin_pieces(message.payload, message.places, kShortestPiece);
  if (cover_vin_pieces(frame->data(), places_of(number, frame->data().size()), kShortestPiece) &&
      !is_transport(*frame))
    carriers_.insert(frame->id);
}

bool Redactor::is_transport(const CanFrame& frame) const {
  if (book_.classify(frame.id)) return true;
  const auto id = split_identifier(frame.id);
  return id && id->group == kGroupTransportData;
}

bool Redactor::cover_vin_pieces(std::span<const std::uint8_t> bytes, std::span<const BytePlace> places,
                                std::size_t shortest) {
  bool any = false;
  for (const auto& [vin, filler] : vins_.known()) {
    for (std::size_t at = 0; at + shortest <= bytes.size(); ++at) {
      for (std::size_t from = 0; from + shortest <= vin.size(); ++from) {
        std::size_t length = 0;
        while (at + length < bytes.size() && from + length < vin.size() &&
               capital(bytes[at + length]) == vin[from + length])
          ++length;
        if (length < shortest) continue;
        const bool digits = vin.find_first_not_of("0123456789", from) >= from + length;
        if (shortest == kShortestPiece && digits && length < kShortestOfDigits) continue;
        any = true;
        for (std::size_t i = 0; i < length; ++i) put(places[at + i], bytes[at + i], filler[from + i]);
      }
    }
  }
  return any;
}

void Redactor::searched() {
  if (!vins_.known().empty()) {
    std::vector<TracedMessage> messages;
    trace_->on_end(messages);
    for (const TracedMessage& message : messages)
      (void)cover_vin_pieces(message.payload, message.places, kShortestPiece);
  }
  frame_ = 0;
}

void Redactor::put(const BytePlace& place, std::uint8_t before, char after) {
  const auto byte = static_cast<std::uint8_t>(after);
  if (byte != before) patches_[place.frame][place.at] = byte;
}

// --- third reading ---

std::optional<Item> Redactor::redacted(const Item& item) {
  if (const auto* frame = std::get_if<CanFrame>(&item)) return redacted_frame(*frame);
  if (const auto* entry = std::get_if<Entry>(&item)) {
    auto out = entries_.redacted(*entry, vins_);
    if (!out) {
      ++count_.photos;
      return std::nullopt;
    }
    if (out->fields != entry->fields) ++count_.entries;
    return out;
  }
  if (std::holds_alternative<Torn>(item) || std::holds_alternative<Unreadable>(item)) return std::nullopt;
  Item out = item;
  if (auto* settings = std::get_if<Settings>(&out)) {
    settings->job = job_;
    std::erase_if(settings->values, [](const auto& one) { return one.first == setting::kRedacted; });
    for (auto& [key, value] : settings->values) value = entries_.secrets().covered_unmistakable(value);
    settings->values.emplace_back(setting::kRedacted, setting::kYes);
  } else if (auto* text = std::get_if<DecoderText>(&out)) {
    // The decoder's id, which the settings may name too; what kind of file it is stays.
    const std::size_t id = std::min(text->name.find('/'), text->name.size());
    text->name = entries_.secrets().covered_unmistakable(text->name.substr(0, id)) + text->name.substr(id);
    text->text = entries_.secrets().covered_unmistakable(text->text);
  }
  after_.on_item(out);
  return out;
}

CanFrame Redactor::redacted_frame(CanFrame frame) {
  const std::uint64_t number = frame_++;
  if (frame.kind != FrameKind::data) return frame;
  if (carriers_.contains(frame.id))
    (void)cover_vin_pieces(frame.data(), places_of(number, frame.data().size()), kShortestInCarrier);
  const auto patch = patches_.find(number);
  if (patch == patches_.end()) return frame;
  for (const auto& [at, byte] : patch->second) frame.bytes[at] = byte;
  ++count_.frames;
  return frame;
}

Result<void> Redactor::finished() const {
  const JobConfiguration before = before_.finish();
  const JobConfiguration after = after_.finish();
  const auto signals = [](const JobConfiguration& one) {
    std::size_t count = 0;
    for (const Decoder& decoder : one.decoders) count += decoder.signals.size();
    return count;
  };
  if (before.problems == after.problems && signals(before) == signals(after) &&
      before.service.has_value() == after.service.has_value())
    return {};
  return fault("a decoder in this job names the vehicle or a person in a place that cannot be covered" +
                   (after.problems.empty() ? "" : " (" + after.problems.back() + ")"),
               {}, "rename it in the decoder before the next job");
}

}  // namespace sumplog
