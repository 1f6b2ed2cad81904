#include "io/job_photos.h"

#include <fcntl.h>
#include <sys/stat.h>

#include <cerrno>
#include <filesystem>
#include <functional>
#include <limits>
#include <string_view>
#include <system_error>

#include "core/item/json_line.h"
#include "core/item/member_name.h"
#include "io/durable_file.h"

namespace sumplog {
namespace {

constexpr std::uint64_t kAnySize = std::numeric_limits<std::uint64_t>::max();

using Take = std::function<void(std::string_view block)>;

PhotoFinding find_photo(const ListedPhoto& listed, const std::string& folder, std::uint64_t most,
                        const Take& take) {
  PhotoFinding found{listed.file, PhotoState::unreadable, 0, {}};
  if (!is_safe_member_name(listed.file)) {
    found.why = "its name leads out of the folder";
    return found;
  }
  const std::string path = (std::filesystem::path(folder) / listed.file).string();
  const FileDescriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
  if (!file) {
    if (errno == ENOENT)
      found.state = PhotoState::missing;
    else
      found.why = std::generic_category().message(errno);
    return found;
  }
  struct stat status {};
  if (::fstat(file.get(), &status) != 0 || !S_ISREG(status.st_mode)) {
    found.why = "not a plain file";
    return found;
  }
  found.bytes = static_cast<std::uint64_t>(status.st_size);
  if (found.bytes > most) {
    found.why = "larger than " + std::to_string(most) + " bytes";
    return found;
  }
  Sha256 hash;
  const auto read = read_blocks(file, found.bytes, path, [&](std::string_view block) -> Result<void> {
    hash.update(block);
    if (take) take(block);
    return {};
  });
  if (!read)
    found.why = read.error().what;
  else
    found.state = hash.hex() == listed.sha256 ? PhotoState::whole : PhotoState::altered;
  return found;
}

}  // namespace

std::vector<PhotoFinding> find_photos(const std::vector<ListedPhoto>& listed, const std::string& folder) {
  std::vector<PhotoFinding> found;
  found.reserve(listed.size());
  for (const ListedPhoto& one : listed) found.push_back(find_photo(one, folder, kAnySize, {}));
  return found;
}

PhotoFinding read_photo(const ListedPhoto& listed, const std::string& folder, std::uint64_t most,
                        std::string& bytes) {
  bytes.clear();
  PhotoFinding found = find_photo(listed, folder, most, [&](std::string_view block) { bytes.append(block); });
  if (found.state != PhotoState::whole) bytes.clear();
  return found;
}

std::string text(const PhotoFinding& photo) {
  const std::string name = "photo " + json_string(photo.file);
  switch (photo.state) {
    case PhotoState::whole: return {};
    case PhotoState::missing: return name + " is missing";
    case PhotoState::altered: return name + " was altered";
    case PhotoState::unreadable: return name + " cannot be read: " + photo.why;
  }
  return {};
}

}  // namespace sumplog
