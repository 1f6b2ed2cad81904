#include "io/job_archive.h"

#include <fcntl.h>

#include <algorithm>
#include <cerrno>
#include <filesystem>
#include <map>

#include "core/item/json_line.h"
#include "io/archive_readme.h"
#include "io/durable_file.h"
#include "io/job_check.h"
#include "io/job_file_name.h"
#include "io/sha256.h"

namespace sumplog {
namespace {

constexpr std::size_t kMostMembers = 10000;  // own choice: a job has some dozens of photos

tl::unexpected<Fault> not_a_job(const std::string& path) {
  return fault(
      "not a job file: its first line is not '" + std::string(kJobFileMagic) + "', or no settings follow",
      path, "name a file that sumplog recorded");
}

Result<void> add_text(TarWriter& tar, std::string_view name, TimePoint at, std::string_view text) {
  if (auto begun = tar.begin({std::string(name), text.size(), at}); !begun) return begun;
  if (auto written = tar.write(text); !written) return written;
  return tar.end();
}

/// Adds the first `size` bytes of an open file; they must have this SHA-256.
Result<void> add_file(TarWriter& tar, const std::string& name, TimePoint at, const FileDescriptor& file,
                      std::uint64_t size, const std::string& path, const std::string& sha256) {
  if (auto begun = tar.begin({name, size, at}); !begun) return begun;
  Sha256 hash;
  auto read = read_blocks(file, size, path, [&](std::string_view block) {
    hash.update(block);
    return tar.write(block);
  });
  if (!read) return read;
  if (hash.hex() != sha256) return fault("changed while it was written to the archive", path, "try again");
  return tar.end();
}

Result<void> add_photo(TarWriter& tar, const ListedPhoto& photo, std::uint64_t size, TimePoint at,
                       const std::string& folder) {
  const std::string path = (std::filesystem::path(folder) / photo.file).string();
  const FileDescriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
  if (!file) return tl::unexpected(disk_fault(errno, "cannot open the photo", path));
  return add_file(tar, photo.file, at, file, size, path, photo.sha256);
}

// --- checking ---

/// The names that an archive of this job has, in their order.
std::vector<std::string> names_of(const JobCheck& job, const std::vector<PhotoFinding>& photos) {
  std::vector<std::string> names{std::string(kReadmeName)};
  if (job.began()) names.push_back(job_file_name(*job.began(), job.job()));
  for (const PhotoFinding& photo : photos)
    if (photo.state != PhotoState::missing) names.push_back(photo.file);
  return names;
}

/// What one reading of all members found.
struct Members {
  std::vector<TarMember> all;
  std::map<std::string, std::string> sha256;  ///< by name, of all but the job
  std::optional<JobCheck> job;
  std::size_t job_at = 0;  ///< place among `all`
};

Result<void> read_members(TarReader& tar, std::string_view expected_fingerprint, Members& members) {
  while (true) {
    auto member = tar.next();
    if (!member) return tl::unexpected(member.error());
    if (!*member) return {};
    if (members.all.size() == kMostMembers) return fault("the archive has too many members");
    const bool may_be_job = !members.job && (*member)->name.ends_with(".log");
    members.all.push_back(**member);
    Sha256 hash;
    if (may_be_job) {
      members.job.emplace(expected_fingerprint);
      members.job_at = members.all.size() - 1;
    }
    auto read = tar.read([&](std::string_view bytes) -> Result<void> {
      if (may_be_job)
        members.job->on_bytes(bytes);
      else
        hash.update(bytes);
      return {};
    });
    if (may_be_job) members.job->on_end();
    if (!read) return read;
    if (!may_be_job) members.sha256[(*member)->name] = hash.hex();
  }
}

std::vector<PhotoFinding> judge_photos(const std::vector<ListedPhoto>& listed, const Members& members) {
  std::vector<PhotoFinding> photos;
  for (const ListedPhoto& one : listed) {
    PhotoFinding found{one.file, PhotoState::missing, 0, {}};
    if (const auto there = members.sha256.find(one.file); there != members.sha256.end())
      found.state = there->second == one.sha256 ? PhotoState::whole : PhotoState::altered;
    photos.push_back(std::move(found));
  }
  return photos;
}

/// Compares bytes that come in order with those of a file.
class Comparison {
 public:
  explicit Comparison(FileDescriptor file) : file_(std::move(file)) {}

  Result<void> take(std::string_view bytes) {
    std::string theirs(bytes.size(), '\0');
    std::size_t have = 0;
    while (have < theirs.size()) {
      const auto count = ::read(file_.get(), theirs.data() + have, theirs.size() - have);
      if (count < 0 && errno == EINTR) continue;
      if (count <= 0) break;
      have += static_cast<std::size_t>(count);
    }
    theirs.resize(have);
    const auto differs = std::mismatch(theirs.begin(), theirs.end(), bytes.begin());
    if (differs.first != theirs.end() || have < bytes.size()) {
      at_ += static_cast<std::uint64_t>(differs.first - theirs.begin());
      return fault("differs");
    }
    at_ += have;
    return {};
  }
  /// Where the comparison stands: the first byte that differs after take() failed.
  [[nodiscard]] std::uint64_t at() const { return at_; }
  [[nodiscard]] bool at_end() const {
    char more = 0;
    return ::read(file_.get(), &more, 1) == 0;
  }

 private:
  FileDescriptor file_;
  std::uint64_t at_ = 0;
};

/// Writes the archive once more out of its own members, and compares.
/// out  the first byte that differs
Result<std::optional<std::uint64_t>> first_difference(const std::string& path, TimePoint at,
                                                      const std::vector<std::string>& names) {
  auto source = TarReader::open(path);
  if (!source) return tl::unexpected(source.error());
  FileDescriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  if (!file) return tl::unexpected(disk_fault(errno, "cannot open the archive", path));
  Comparison comparison(std::move(file));
  TarWriter tar([&](std::string_view bytes) { return comparison.take(bytes); });
  const auto write_all_members = [&]() -> Result<void> {
    for (const std::string& name : names) {
      auto member = source->next();
      if (!member) return tl::unexpected(member.error());
      if (!*member) return fault("ended");
      if (name == kReadmeName) {
        if (auto added = add_text(tar, name, at, kArchiveReadme); !added) return added;
        continue;
      }
      if (auto begun = tar.begin({name, (*member)->size, at}); !begun) return begun;
      auto copied = source->read([&](std::string_view bytes) { return tar.write(bytes); });
      if (!copied) return copied;
      if (auto ended = tar.end(); !ended) return ended;
    }
    return tar.close();
  };
  if (!write_all_members() || !comparison.at_end()) return comparison.at();
  return std::nullopt;
}

}  // namespace

Result<ArchivedJob> write_archive(const std::string& job_path, const ByteSink& to) {
  const FileDescriptor file(::open(job_path.c_str(), O_RDONLY | O_CLOEXEC));
  if (!file) return tl::unexpected(disk_fault(errno, "cannot open the job", job_path));
  const auto size = size_of(file, job_path);
  if (!size) return tl::unexpected(size.error());
  JobCheck check;
  Sha256 hash;
  auto read = read_blocks(file, *size, job_path, [&](std::string_view block) -> Result<void> {
    hash.update(block);
    check.on_bytes(block);
    return {};
  });
  if (!read) return tl::unexpected(read.error());
  check.on_end();
  if (!check.is_job_file() || !check.began()) return not_a_job(job_path);

  const TimePoint at = *check.began();
  const std::string folder = folder_of(job_path);
  ArchivedJob done{job_file_name(at, check.job()), check.verification(), find_photos(check.photos(), folder)};
  TarWriter tar(to);
  auto added = add_text(tar, kReadmeName, at, kArchiveReadme);
  if (added) added = add_file(tar, done.name, at, file, *size, job_path, hash.hex());
  for (std::size_t i = 0; added && i < done.photos.size(); ++i)
    if (done.photos[i].state == PhotoState::whole)
      added = add_photo(tar, check.photos()[i], done.photos[i].bytes, at, folder);
  if (added) added = tar.close();
  if (!added) return tl::unexpected(added.error());
  return done;
}

Result<ArchiveVerification> verify_archive(const std::string& path, std::string_view expected_fingerprint) {
  auto tar = TarReader::open(path);
  if (!tar) return tl::unexpected(tar.error());
  ArchiveVerification result;
  Members members;
  if (auto read = read_members(*tar, expected_fingerprint, members); !read) result.damage = read.error().what;
  if (!members.job || !members.job->is_job_file() || !members.job->began()) {
    if (result.damage.empty()) result.damage = "there is no job file in this archive";
    return result;
  }
  result.job = members.job->verification();
  result.photos = judge_photos(members.job->photos(), members);
  const std::vector<std::string> names = names_of(*members.job, result.photos);
  for (std::size_t i = 0; i < members.all.size(); ++i) {
    const std::string& name = members.all[i].name;
    if (i != members.job_at && std::find(names.begin(), names.end(), name) == names.end())
      result.strangers.push_back(name);
  }
  if (!result.damage.empty()) return result;
  const bool same_names =
      std::equal(names.begin(), names.end(), members.all.begin(), members.all.end(),
                 [](const std::string& name, const TarMember& member) { return name == member.name; });
  if (!same_names) {
    if (result.strangers.empty()) result.written_otherwise = "names or order of its members";
    return result;
  }
  auto difference = first_difference(path, *members.job->began(), names);
  if (!difference) return tl::unexpected(difference.error());
  if (*difference)
    result.written_otherwise = "README, times, owners or padding, from byte " + std::to_string(**difference);
  return result;
}

bool ArchiveVerification::holds() const {
  return job && job->holds() && problems().empty();
}

std::vector<std::string> ArchiveVerification::problems() const {
  std::vector<std::string> all;
  for (const PhotoFinding& photo : photos)
    if (photo.state != PhotoState::whole) all.push_back(text(photo));
  for (const std::string& name : strangers) all.push_back(json_string(name) + " does not belong to the job");
  if (!damage.empty()) all.push_back(damage);
  if (!written_otherwise.empty())
    all.push_back("the archive was changed around the job and its photos: " + written_otherwise);
  return all;
}

Result<bool> is_archive(const std::string& path) {
  constexpr std::uint64_t kTarHeader = 512;  // bytes; POSIX.1-1988 ustar
  const FileDescriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
  if (!file) return tl::unexpected(disk_fault(errno, "cannot open", path));
  const auto size = size_of(file, path);
  if (!size) return tl::unexpected(size.error());
  std::string beginning;
  auto read =
      read_blocks(file, std::min(*size, kTarHeader), path, [&](std::string_view block) -> Result<void> {
        beginning += block;
        return {};
      });
  if (!read) return tl::unexpected(read.error());
  return begins_like_tar(beginning);
}

}  // namespace sumplog
