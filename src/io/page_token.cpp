#include "io/page_token.h"

#include <fcntl.h>
#include <sys/random.h>
#include <sys/stat.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cerrno>
#include <fstream>

#include "core/item/json_line.h"
#include "io/durable_file.h"

namespace sumplog {
namespace {

constexpr mode_t kForThisUser = 0600;
constexpr std::size_t kBytes = 16;  // own choice: 128 bits are not guessed

bool is_token(const std::string& text) {
  return text.size() == 2 * kBytes &&
         std::all_of(text.begin(), text.end(), [](unsigned char c) { return std::isxdigit(c) != 0; });
}

}  // namespace

Result<std::string> page_token(const std::string& folder) {
  const std::string path = folder + "/page-token";
  const auto wrong = [&](std::string what) {
    return fault(std::move(what), path,
                 "remove the file: a new token is then drawn, and the old one is worth nothing");
  };
  struct stat status {};
  if (::stat(path.c_str(), &status) == 0) {
    if ((status.st_mode & 077) != 0) return wrong("others can read the token of the page");
    std::string token;
    std::ifstream file(path);
    if (!std::getline(file, token) || !is_token(token)) return wrong("this file holds no token");
    return token;
  }
  if (auto made = make_folder(folder, {}); !made) return tl::unexpected(made.error());
  std::array<std::uint8_t, kBytes> bytes{};
  if (::getrandom(bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size()))
    return tl::unexpected(disk_fault(errno, "cannot draw a token", path));
  std::string token = hex_text(bytes.data(), bytes.size());
  for (char& digit : token) digit = static_cast<char>(std::tolower(static_cast<unsigned char>(digit)));
  const FileDescriptor file(
      ::open(path.c_str(), O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC | O_NOFOLLOW, kForThisUser));
  if (!file) return tl::unexpected(disk_fault(errno, "cannot keep the token of the page", path));
  if (auto written = write_all(file, token + "\n", {}, path); !written)
    return tl::unexpected(written.error());
  return token;
}

}  // namespace sumplog
