#pragma once
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "app/program_settings.h"
#include "io/web_message.h"

namespace sumplog {

/// What a person settles before a job begins: the adapter, then the decoder and its window, which he stands for by name.
/// GET and POST /api/setup of docs/web.md.
class SetupDesk {
 public:
  enum class Stage { adapter, car };
  struct JobChoice {
    std::string decoder;
    std::string by;
  };
  /// in   chosen  called after the answer to a choice has been given
  SetupDesk(const ProgramSettings& settings, std::function<void()> chosen);

  /// in   help  what is wrong and what to do; empty: nothing is wrong
  void show(Stage stage, std::string help);
  void take_adapter(std::string interface) { interface_ = std::move(interface); }
  [[nodiscard]] const std::string& interface() const { return interface_; }  ///< empty: none yet
  [[nodiscard]] const std::optional<JobChoice>& job() const { return job_; }

  void on_request(const WebRequest& request, const WebReply& reply);
  [[nodiscard]] std::string text() const;

 private:
  void on_choice(const WebRequest& request, const WebReply& reply);

  std::function<void()> chosen_;
  std::string decoders_;  ///< JSON, one array: they do not change while the program runs
  std::vector<std::string> ids_;
  Stage stage_ = Stage::adapter;
  std::string help_;
  std::string interface_;
  std::optional<JobChoice> job_;
};

}  // namespace sumplog
