#include <algorithm>
#include <iostream>
#include <map>

#include "app/commands.h"
#include "app/job_access.h"
#include "app/job_finding.h"
#include "app/job_opening.h"
#include "app/job_place.h"
#include "core/item/entry_names.h"
#include "core/record/entry_table.h"
#include "io/web_server.h"

namespace sumplog {
namespace {

/// "file=PATH of=… by=…": the rest of the entry follows from the bytes.
Recorded record_photo_of(const std::string& job, const std::string& id,
                         const std::vector<std::string>& words) {
  const std::string place = "entry photo";
  std::map<std::string, std::string> given;
  for (const std::string& word : words) {
    const std::size_t equals = std::min(word.find('='), word.size());
    const std::string key = word.substr(0, equals);
    if (equals == word.size() || (key != "file" && key != "of" && key != "by"))
      return tl::unexpected(
          Refusal{{"'" + word + "' does not fit", place, "give file=PATH, of=… and by=…"}, false});
    given[key] = word.substr(equals + 1);
  }
  if (given["file"].empty())
    return tl::unexpected(Refusal{{"no photo is named", place, "give file=PATH"}, false});
  const auto bytes = read_text_file(given["file"], WebLimits{}.photo_bytes);
  if (!bytes) return tl::unexpected(Refusal{bytes.error(), false});
  return record_photo(job, id, *bytes, given["of"], given["by"]);
}

Recorded record(const std::string& job, const std::string& id, const std::string& name,
                const std::vector<std::string>& words) {
  if (name == kPhoto) return record_photo_of(job, id, words);
  auto fields = fields_from_words(name, words);
  if (!fields) return tl::unexpected(Refusal{fields.error(), false});
  return record_entry(job, {id, name, std::move(*fields)});
}

}  // namespace

ExitStatus run_record(const CommonOptions& common, const RecordOptions& options) {
  const auto job = find_job(common.settings, options.job);
  if (!job) return report(job.error(), ExitStatus::wrong);
  std::vector<std::string> words = options.fields;
  if (options.ago_s) words.push_back("ago_s=" + *options.ago_s);
  if (!options.by.empty()) words.push_back("by=" + options.by);
  const auto recorded =
      record(*job, options.id.empty() ? random_entry_id() : options.id, options.name, words);
  if (!recorded)
    return report(recorded.error().fault, recorded.error().failed ? ExitStatus::failed : ExitStatus::wrong);
  std::cout << (common.json ? *recorded : "recorded: " + options.name + " in " + *job) << '\n';
  return ExitStatus::done;
}

}  // namespace sumplog
