#pragma once
#include <optional>
#include <string>

#include "core/item/result.h"

namespace sumplog {

/// Says beside a job file where the program listens that holds it: JOB.serving, readable for this user only, because it may
/// hold the token. The lock of the job file decides who holds the job; a note that was left behind is harmless.
struct ServingNote {
  std::string url;    ///< "http://127.0.0.1:8723/"
  std::string token;  ///< empty: none is asked for
};

[[nodiscard]] std::string serving_note_path(const std::string& job_path);
/// err  the disk
[[nodiscard]] Result<void> write_serving_note(const std::string& job_path, const ServingNote& note);
/// Nothing: there is none, or it cannot be read.
[[nodiscard]] std::optional<ServingNote> read_serving_note(const std::string& job_path);
void remove_serving_note(const std::string& job_path);

}  // namespace sumplog
