#pragma once
#include <gtest/gtest.h>
#include <toml++/toml.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "core/capture/reader.h"
#include "core/item/item.h"
#include "core/item/json_line.h"
#include "core/job/setting.h"
#include "core/journal/flow.h"

namespace sumplog {

// Runs the captures of the repository through the core. captures/<decoder>/<scenario>/ holds capture.log and about.toml.

namespace fs = std::filesystem;

inline std::string file_text(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

inline std::vector<fs::path> capture_folders() {
  std::vector<fs::path> folders;
  for (const auto& entry : fs::recursive_directory_iterator(fs::path(SUMPLOG_SOURCE) / "captures"))
    if (entry.path().filename() == "capture.log") folders.push_back(entry.path().parent_path());
  std::sort(folders.begin(), folders.end());
  return folders;
}

inline std::string capture_name(const testing::TestParamInfo<fs::path>& info) {
  std::string name = info.param.parent_path().filename().string() + "_" + info.param.filename().string();
  std::replace(name.begin(), name.end(), '-', '_');
  return name;
}

inline std::vector<Item> items_of(const std::string& bytes) {
  const auto form = recognise(bytes);
  EXPECT_TRUE(form) << form.error().text();
  const auto reader = make_reader(*form);
  std::vector<Item> items;
  const auto drain = [&] {
    while (auto item = reader->next()) items.push_back(std::move(*item));
  };
  reader->on_bytes(bytes);
  drain();
  reader->on_end();
  drain();
  EXPECT_EQ(reader->ending().kind, EndKind::clean) << reader->ending().why;
  return items;
}

/// The items that open a run of this capture: what `sumplog replay --decoder …` would put before it.
inline std::vector<Item> opening_of(const fs::path& folder, TimePoint at) {
  const toml::table about = toml::parse_file((folder / "about.toml").string());
  const std::string decoder = about["decoder"].value_or(std::string("obd-generic"));
  const fs::path decoders = fs::path(SUMPLOG_SOURCE) / "decoders";
  std::vector<Item> items{Settings{at, "capture", "test", "", {}}};
  const auto add = [&](const fs::path& place, const std::string& id) {
    for (const char* const name : {"signals.toml", "service.toml"})
      if (fs::exists(place / name))
        items.emplace_back(DecoderText{at, id + "/" + name, file_text(place / name)});
  };
  add(decoders / "obd-generic", "obd-generic");
  if (decoder.starts_with("./"))
    add(folder / decoder, "beside");
  else if (decoder != "obd-generic")
    add(decoders / decoder, decoder);
  if (const auto* window = about["window_c"].as_array()) {
    const auto end = [&](std::size_t i) { return fixed((*window)[i].value<double>().value(), 1); };
    std::get<Settings>(items[0]).values.emplace_back(std::string(setting::kWindow), end(0) + ":" + end(1));
  }
  return items;
}

/// Everything that the core makes of the items, with an end behind them.
inline Output run_items(const std::vector<Item>& opening, const std::vector<Item>& items) {
  Flow flow;
  Output out;
  for (const Item& item : opening) flow.on_item(item, out);
  TimePoint last{};
  for (const Item& item : items) {
    flow.on_item(item, out);
    last = std::max(last, time_of(item));
  }
  flow.on_item(End{last}, out);
  return out;
}

}  // namespace sumplog
