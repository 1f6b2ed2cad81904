#include <iostream>

#include "app/commands.h"
#include "core/item/json_line.h"
#include "io/durable_file.h"
#include "io/job_archive.h"
#include "io/verify.h"

namespace sumplog {
namespace {

/// What is said of a job file, alone or in an archive.
struct Said {
  std::optional<Verification> job;
  std::vector<PhotoFinding> photos;
  std::vector<std::string> problems;  ///< beside those of the job file itself
  bool archive = false;
};

Result<Said> look_at(const std::string& path, std::string_view fingerprint) {
  const auto archive = is_archive(path);
  if (!archive) return tl::unexpected(archive.error());
  if (*archive) {
    auto found = verify_archive(path, fingerprint);
    if (!found) return tl::unexpected(found.error());
    return Said{found->job, found->photos, found->problems(), true};
  }
  std::vector<ListedPhoto> listed;
  auto found = verify(path, fingerprint, &listed);
  if (!found) return tl::unexpected(found.error());
  Said said{*found, find_photos(listed, folder_of(path)), {}, false};
  for (const PhotoFinding& photo : said.photos)
    if (photo.state != PhotoState::whole) said.problems.push_back(text(photo));
  return said;
}

std::size_t whole(const std::vector<PhotoFinding>& photos) {
  std::size_t count = 0;
  for (const PhotoFinding& photo : photos) count += photo.state == PhotoState::whole ? 1U : 0U;
  return count;
}

void print_json(const Said& said) {
  JsonLine line;
  if (said.job) {
    const Verification& job = *said.job;
    line.text("state", text_of(job.state))
        .integer("bytes", static_cast<std::int64_t>(job.bytes))
        .integer("lines", static_cast<std::int64_t>(job.lines))
        .integer("unsealed_bytes", static_cast<std::int64_t>(job.unsealed_bytes));
    if (job.changed)
      line.raw("changed_lines",
               "[" + std::to_string(job.changed->first) + "," + std::to_string(job.changed->last) + "]");
    if (job.unreadable_line > 0)
      line.integer("unreadable_line", static_cast<std::int64_t>(job.unreadable_line));
    if (!job.fingerprint.empty()) line.text("fingerprint", job.fingerprint);
    if (job.expected) line.flag("fingerprint_found", job.expected_line > 0);
    if (job.expected_line > 0) line.integer("fingerprint_line", static_cast<std::int64_t>(job.expected_line));
    if (job.redacted) line.flag("redacted", true);
  }
  line.flag("archive", said.archive)
      .integer("photos", static_cast<std::int64_t>(said.photos.size()))
      .integer("photos_whole", static_cast<std::int64_t>(whole(said.photos)))
      .texts("problems", said.problems);
  std::cout << line.take() << '\n';
}

void print_text(const std::string& path, const Said& said) {
  if (said.job) {
    const Verification& job = *said.job;
    std::cout << path << ": " << job.text() << '\n';
    if (job.redacted)
      std::cout << "a redacted copy: without plate, VIN, names, free texts and photos; not the original\n";
    if (!job.fingerprint.empty()) std::cout << "fingerprint " << job.fingerprint << '\n';
    std::cout << job.proof() << '\n';
  }
  if (!said.photos.empty())
    std::cout << "photos: " << whole(said.photos) << " of " << said.photos.size() << " whole\n";
  for (const std::string& problem : said.problems) std::cout << path << ": " << problem << '\n';
}

}  // namespace

ExitStatus run_verify(const CommonOptions& common, const VerifyOptions& options) {
  std::string fingerprint;
  if (!options.fingerprint.empty()) {
    auto typed = typed_fingerprint(options.fingerprint);
    if (!typed) return report(typed.error(), ExitStatus::wrong);
    fingerprint = *typed;
  }
  const auto said = look_at(options.job, fingerprint);
  if (!said) return report(said.error(), ExitStatus::wrong);
  if (common.json)
    print_json(*said);
  else
    print_text(options.job, *said);
  return said->job && said->job->holds() && said->problems.empty() ? ExitStatus::done : ExitStatus::failed;
}

}  // namespace sumplog
