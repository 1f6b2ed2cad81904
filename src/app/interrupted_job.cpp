#include "app/interrupted_job.h"

#include <chrono>
#include <filesystem>
#include <system_error>

#include "app/job_finding.h"
#include "app/job_place.h"
#include "app/live_page.h"
#include "app/program_log.h"
#include "io/job_file.h"
#include "io/serving_note.h"
#include "io/verify.h"

namespace sumplog {
namespace {

namespace fs = std::filesystem;

// Own choice: a computer has started again by then, and no other car stands in the bay.
constexpr auto kSameCar = std::chrono::minutes(10);

bool written_just_now(const std::string& path) {
  std::error_code error;
  const auto written = fs::last_write_time(path, error);
  if (error) return false;
  const auto age = fs::file_time_type::clock::now() - written;
  return age >= age.zero() && age <= kSameCar;
}

/// Whether it can be gone on with. A closed one was ended; of another the log says why it is left.
bool open_job(const std::string& path) {
  const auto found = verify(path);
  if (!found || found->state == SealState::changed)
    log_warning("the job that was interrupted is left as it is: " +
                (found ? path + ": " + found->text() : found.error().text()));
  return found && (found->state == SealState::open || found->state == SealState::torn);
}

}  // namespace

std::optional<std::string> take_interrupted_job(const ProgramSettings& settings) {
  const auto address = page_address(settings);
  const auto files = job_files(data_folder(settings));
  if (!address || !*address || !files) return std::nullopt;
  const std::string ours = "http://" + (*address)->text() + "/";
  // Oldest first: what was held last stands at the end.
  for (auto path = files->rbegin(); path != files->rend(); ++path) {
    const auto note = read_serving_note(*path);
    if (!note || note->url != ours || JobFile::is_held(*path)) continue;
    remove_serving_note(*path);
    if (written_just_now(*path) && open_job(*path)) return *path;
  }
  return std::nullopt;
}

}  // namespace sumplog
