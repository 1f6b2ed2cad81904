#pragma once
#include <string>
#include <vector>

#include "app/program_settings.h"
#include "core/item/item.h"
#include "core/item/result.h"
#include "core/job/job_settings.h"

namespace sumplog {

/// The program's name and version, as a job file carries it.
[[nodiscard]] std::string program_text();

/// Where decoders are looked for by their id: beside the program, wherever that was put. No path is compiled in.
[[nodiscard]] std::vector<std::string> decoder_folders();

/// Ids of the decoders that can be found, sorted, without the template.
[[nodiscard]] std::vector<std::string> known_decoders();

/// The files of one decoder folder, checked: signals.toml and, where they are, service.toml and codes.toml.
/// in   id_or_folder  "demo-9", or a path (with a slash, or a folder that exists)
/// err  not found (with what is known), or the first mistake with file:line
[[nodiscard]] Result<std::vector<DecoderText>> load_decoder(const std::string& id_or_folder);

/// The items that open a job or a capture: settings, and the decoders in use (obd-generic always).
/// err  a setting that does not hold, with its place
[[nodiscard]] Result<std::vector<Item>> opening_items(const ProgramSettings& settings, std::string job,
                                                      TimePoint at);

/// The whole text of a file.
/// err  missing, a folder, no permission, larger than `limit` bytes
[[nodiscard]] Result<std::string> read_text_file(const std::string& path, std::size_t limit = 4U << 20);

}  // namespace sumplog
