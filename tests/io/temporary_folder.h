#pragma once
#include <gtest/gtest.h>
#include <stdlib.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>
#include <vector>

#include "core/capture/job_reader.h"
#include "core/item/item.h"
#include "core/item/item_text.h"
#include "core/item/result.h"

namespace sumplog::test {

/// A new folder on a real disk, gone after the test.
class TemporaryFolder {
 public:
  TemporaryFolder() {
    std::string pattern = (std::filesystem::temp_directory_path() / "sumplog-test-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no temporary folder: " + pattern);
    path_ = pattern;
  }
  ~TemporaryFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;

  [[nodiscard]] std::string operator/(std::string_view name) const { return (path_ / name).string(); }
  [[nodiscard]] std::string text() const { return path_.string(); }
  /// Names in the folder, hidden ones too.
  [[nodiscard]] std::vector<std::string> names() const {
    std::vector<std::string> found;
    for (const auto& one : std::filesystem::directory_iterator(path_))
      found.push_back(one.path().filename().string());
    return found;
  }

 private:
  std::filesystem::path path_;
};

inline std::string bytes_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}
inline void put_bytes(const std::string& path, std::string_view bytes) {
  std::filesystem::remove(
      path);  // ext4 flushes a file that is written over at once (ext4(5), auto_da_alloc): slow
  std::ofstream file(path, std::ios::binary | std::ios::trunc);
  file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
}
inline std::vector<std::string> lines_of(std::string_view text) {
  std::vector<std::string> lines;
  while (!text.empty()) {
    const std::size_t end = text.find('\n');
    lines.emplace_back(text.substr(0, end));
    if (end == std::string_view::npos) break;
    text.remove_prefix(end + 1);
  }
  return lines;
}

/// Fails the test with the fault's own text when there is one.
template <class T>
T must(Result<T> result) {
  if (!result) throw std::runtime_error(result.error().text());
  if constexpr (!std::is_void_v<T>) return std::move(*result);
}

// Job time of the tests: 2023-11-14 22:13:20 UTC and later.
inline TimePoint at_s(double seconds) {
  return at_micros(1'700'000'000'000'000 + static_cast<std::int64_t>(seconds * 1e6));
}

/// A frame whose data is its number: a frame that is lost, doubled or cut shows.
inline CanFrame numbered_frame(std::uint32_t number, TimePoint at) {
  const std::uint8_t bytes[8] = {0xA5,
                                 0x5A,
                                 0,
                                 0,
                                 static_cast<std::uint8_t>(number >> 24),
                                 static_cast<std::uint8_t>(number >> 16),
                                 static_cast<std::uint8_t>(number >> 8),
                                 static_cast<std::uint8_t>(number)};
  return data_frame(at, BusName{"can0"}, standard_id(0x7E9), bytes);
}
inline std::uint32_t number_of(const CanFrame& frame) {
  return static_cast<std::uint32_t>(frame.bytes[4]) << 24 | static_cast<std::uint32_t>(frame.bytes[5]) << 16 |
         static_cast<std::uint32_t>(frame.bytes[6]) << 8 | frame.bytes[7];
}
inline Item entry(std::string id, TimePoint at) {
  return Entry{at, std::move(id), "plug_out", "{}"};
}

inline std::vector<Item> header() {
  return {Settings{at_s(0),
                   "00112233445566778899aabbccddeeff",
                   "sumplog test",
                   "Europe/Berlin",
                   {{"window", "35:45"}}},
          DecoderText{at_s(0), "demo-9/signals.toml",
                      std::string(900, 'x') + "\n\"invented\" 37 \xC2\xB0"
                                              "C\n"}};
}

/// All lines of a text, by the text of the items that a job reader gives.
struct Replayed {
  std::vector<Item> items;
  std::vector<std::string> texts;  ///< lines of each item, newline between parts
  Ending ending;
  std::uint64_t unreadable = 0;
};
inline std::string text_of(const Item& item) {
  if (const auto* bad = std::get_if<Unreadable>(&item)) return "unreadable: " + bad->why;
  std::string text;
  for (const std::string& line : item_lines(item)) text += line + '\n';
  return text;
}
inline Replayed replayed(std::string_view bytes) {
  Replayed result;
  const auto reader = make_job_reader();
  reader->on_bytes(bytes);
  reader->on_end();
  while (auto item = reader->next()) {
    if (std::holds_alternative<Unreadable>(*item)) ++result.unreadable;
    result.texts.push_back(text_of(*item));
    result.items.push_back(std::move(*item));
  }
  result.ending = reader->ending();
  return result;
}
inline std::vector<std::uint32_t> frame_numbers(const std::vector<Item>& items) {
  std::vector<std::uint32_t> numbers;
  for (const Item& item : items)
    if (const auto* frame = std::get_if<CanFrame>(&item)) numbers.push_back(number_of(*frame));
  return numbers;
}

}  // namespace sumplog::test
