#include "io/serving_note.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <fstream>

#include "io/durable_file.h"

namespace sumplog {
namespace {

constexpr mode_t kForThisUser = 0600;

}  // namespace

std::string serving_note_path(const std::string& job_path) {
  return job_path + ".serving";
}

Result<void> write_serving_note(const std::string& job_path, const ServingNote& note) {
  const std::string path = serving_note_path(job_path);
  ::unlink(path.c_str());  // one that was left behind may belong to another user, or be readable for all
  const FileDescriptor file(
      ::open(path.c_str(), O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC | O_NOFOLLOW, kForThisUser));
  if (!file) return tl::unexpected(disk_fault(errno, "cannot write where the job is served", path));
  return write_all(file, note.url + "\n" + note.token + "\n", {}, path);
}

std::optional<ServingNote> read_serving_note(const std::string& job_path) {
  std::ifstream file(serving_note_path(job_path));
  ServingNote note;
  if (!std::getline(file, note.url) || note.url.empty()) return std::nullopt;
  std::getline(file, note.token);
  return note;
}

void remove_serving_note(const std::string& job_path) {
  ::unlink(serving_note_path(job_path).c_str());
}

}  // namespace sumplog
