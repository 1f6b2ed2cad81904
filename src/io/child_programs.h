#pragma once
#include <chrono>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "core/item/result.h"

namespace boost::asio {
class io_context;
}

namespace sumplog {

/// Runs other programs beside the loop and never waits for one: each in a process group of its own, without input, its
/// output thrown away, ended by force when it takes too long.
class ChildPrograms {
 public:
  struct Limits {
    std::chrono::milliseconds longest{10'000};  ///< own choice
    std::size_t at_once = 4;
  };
  explicit ChildPrograms(boost::asio::io_context& loop);
  ChildPrograms(boost::asio::io_context& loop, Limits limits);
  /// Those that still run are ended.
  ~ChildPrograms();
  ChildPrograms(const ChildPrograms&) = delete;
  ChildPrograms& operator=(const ChildPrograms&) = delete;

  /// in   words  the program, looked up in PATH when it has no slash, and its arguments
  ///      ended  called with whether it ended by itself and with success; may be empty
  /// err  it cannot be started · too many run already
  [[nodiscard]] Result<void> start(const std::vector<std::string>& words,
                                   std::function<void(bool)> ended = {});
  [[nodiscard]] std::size_t running() const;

 private:
  class Shared;
  std::shared_ptr<Shared> shared_;
};

/// Where a program lies, as a shell would find it; empty: nowhere.
[[nodiscard]] std::string program_path(const std::string& name);

}  // namespace sumplog
