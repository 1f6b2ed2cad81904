#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "core/capture/reader.h"
#include "fuzz/target.h"

namespace sumplog::fuzz {

/// What a capture reader made of bytes.
struct Reading {
  std::vector<Item> items;
  std::vector<std::string> texts;  ///< one for each item
  Ending ending;
};

/// One item in full as text.
[[nodiscard]] std::string item_text(const Item& item);
/// in  seed  of the lengths of the pieces in which the bytes come; 0: in one piece
[[nodiscard]] Reading read_capture(CaptureForm form, std::string_view bytes, std::uint32_t seed);

/// Holds a reader against its contract: cut anyhow the bytes give the same items and ending; the beginning of an input gives
/// no item that the whole does not give; every unreadable record is counted.
[[nodiscard]] Reading check_reader(CaptureForm form, Bytes bytes);
/// The frames of a reading, written in each form, are read back as they were.
void check_writers(const Reading& reading);

}  // namespace sumplog::fuzz
