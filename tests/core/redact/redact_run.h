#pragma once
#include <gtest/gtest.h>

#include <map>
#include <string>
#include <vector>

#include "core/item/item_text.h"
#include "core/redact/redactor.h"

namespace sumplog::testing {

inline constexpr char kNewJob[] = "0f1e2d3c4b5a69788796a5b4c3d2e1f0";

/// A redacted copy of these items.
struct Redacted {
  std::vector<Item> items;
  RedactionCount count;
  std::string fault;  ///< why there is none
};
inline Redacted redact(const std::vector<Item>& items) {
  Redactor redactor(kNewJob);
  Redacted out;
  for (const Item& item : items) redactor.learn(item);
  if (auto learned = redactor.learned(); !learned) {
    out.fault = learned.error().text();
    return out;
  }
  for (const Item& item : items) redactor.search(item);
  redactor.searched();
  for (const Item& item : items)
    if (auto kept = redactor.redacted(item)) out.items.push_back(std::move(*kept));
  if (auto done = redactor.finished(); !done) out.fault = done.error().text();
  out.count = redactor.count();
  return out;
}

inline std::vector<CanFrame> frames_of(const std::vector<Item>& items) {
  std::vector<CanFrame> frames;
  for (const Item& item : items)
    if (const auto* frame = std::get_if<CanFrame>(&item)) frames.push_back(*frame);
  return frames;
}

/// The text of a file with these items, numbered parts joined, in capitals.
inline std::string file_text_of(const std::vector<Item>& items) {
  std::string text;
  for (const Item& item : items) {
    if (const auto* decoder = std::get_if<DecoderText>(&item)) {
      text += decoder->name + '\n' + decoder->text + '\n';
    } else if (const auto* entry = std::get_if<Entry>(&item)) {
      text += entry->id + ' ' + entry->name + ' ' + entry->fields + '\n';
    } else {
      for (const std::string& line : item_lines(item)) text += line + '\n';
    }
  }
  for (char& c : text)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return text;
}

/// The longest piece of `secret` that stands, as bytes in any case, in one frame.
inline std::size_t longest_piece_in_a_frame(const std::vector<Item>& items, const std::string& secret) {
  std::size_t longest = 0;
  for (const CanFrame& frame : frames_of(items)) {
    std::string bytes(frame.data().begin(), frame.data().end());
    for (char& c : bytes)
      if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    for (std::size_t at = 0; at < secret.size(); ++at)
      while (at + longest < secret.size() && bytes.find(secret.substr(at, longest + 1)) != std::string::npos)
        ++longest;
  }
  return longest;
}

/// All data bytes of each identifier, one frame after the other, without the first byte of each (its number or N_PCI).
inline std::string joined_by_identifier(const std::vector<Item>& items) {
  std::map<CanId, std::string> joined;
  for (const CanFrame& frame : frames_of(items)) {
    const auto data = frame.data();
    for (std::size_t i = 1; i < data.size(); ++i) joined[frame.id] += static_cast<char>(data[i]);
  }
  std::string all;
  for (const auto& [id, bytes] : joined) all += bytes + '\n';
  return all;
}

}  // namespace sumplog::testing
