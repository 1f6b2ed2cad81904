#include "io/child_programs.h"

#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <map>
#include <sstream>

extern char** environ;

namespace sumplog {
namespace {

namespace asio = boost::asio;

constexpr auto kLookEvery = std::chrono::milliseconds(100);

}  // namespace

class ChildPrograms::Shared : public std::enable_shared_from_this<Shared> {
 public:
  Shared(asio::io_context& loop, Limits limits) : limits_(limits), timer_(loop) {}

  Result<void> start(const std::vector<std::string>& words, std::function<void(bool)> ended) {
    if (running_.size() >= limits_.at_once)
      return fault("too many programs run already", words.front(),
                   "one that takes longer than its cue is useless: let it end sooner");
    std::vector<char*> arguments;
    for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
    arguments.push_back(nullptr);
    posix_spawn_file_actions_t files;
    posix_spawn_file_actions_init(&files);
    posix_spawn_file_actions_addopen(&files, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
    posix_spawn_file_actions_addopen(&files, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    posix_spawn_file_actions_addopen(&files, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
    posix_spawnattr_t how;
    posix_spawnattr_init(&how);
    sigset_t none;
    sigemptyset(&none);
    sigset_t usual;
    sigfillset(&usual);
    posix_spawnattr_setsigmask(&how, &none);
    posix_spawnattr_setsigdefault(&how, &usual);
    posix_spawnattr_setflags(&how, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
    pid_t child = 0;
    const int error = posix_spawnp(&child, arguments.front(), &files, &how, arguments.data(), environ);
    posix_spawnattr_destroy(&how);
    posix_spawn_file_actions_destroy(&files);
    if (error != 0)
      return fault(std::string("cannot start this program: ") + std::strerror(error), words.front(),
                   "name an executable file");
    running_.emplace(child, Child{std::chrono::steady_clock::now() + limits_.longest, std::move(ended)});
    look_later();
    return {};
  }

  void end_all() {
    stopped_ = true;
    timer_.cancel();
    for (const auto& [child, what] : running_) {
      ::kill(-child, SIGKILL);
      ::waitpid(child, nullptr, 0);
    }
    running_.clear();
  }
  [[nodiscard]] std::size_t running() const { return running_.size(); }

 private:
  void look_later() {
    timer_.expires_after(kLookEvery);
    timer_.async_wait([self = shared_from_this()](boost::system::error_code error) {
      if (!error && !self->stopped_) self->look();
    });
  }
  void look() {
    const auto now = std::chrono::steady_clock::now();
    for (auto one = running_.begin(); one != running_.end();) {
      if (now >= one->second.until) ::kill(-one->first, SIGKILL);
      int status = 0;
      if (::waitpid(one->first, &status, WNOHANG) == 0) {
        ++one;
        continue;
      }
      const auto ended = std::move(one->second.ended);
      one = running_.erase(one);
      if (ended) ended(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    }
    if (!running_.empty()) look_later();
  }

  struct Child {
    std::chrono::steady_clock::time_point until;  ///< its time is over then
    std::function<void(bool)> ended;
  };
  const Limits limits_;
  asio::steady_timer timer_;
  std::map<pid_t, Child> running_;
  bool stopped_ = false;
};

ChildPrograms::ChildPrograms(asio::io_context& loop) : ChildPrograms(loop, Limits{}) {}
ChildPrograms::ChildPrograms(asio::io_context& loop, Limits limits)
    : shared_(std::make_shared<Shared>(loop, limits)) {}
ChildPrograms::~ChildPrograms() {
  shared_->end_all();
}

Result<void> ChildPrograms::start(const std::vector<std::string>& words, std::function<void(bool)> ended) {
  return shared_->start(words, std::move(ended));
}
std::size_t ChildPrograms::running() const {
  return shared_->running();
}

std::string program_path(const std::string& name) {
  if (name.find('/') != std::string::npos) return ::access(name.c_str(), X_OK) == 0 ? name : std::string();
  const char* const path = std::getenv("PATH");
  std::istringstream folders(path == nullptr ? "" : path);
  for (std::string folder; std::getline(folders, folder, ':');) {
    const std::string one = folder + "/" + name;
    if (::access(one.c_str(), X_OK) == 0) return one;
  }
  return {};
}

}  // namespace sumplog
