#pragma once
#include <string>

#include "core/item/result.h"
#include "core/redact/redactor.h"

namespace sumplog {

/// A redacted copy that was made.
struct RedactedJob {
  std::string path;
  RedactionCount count;
  bool closed = false;           ///< the job was ended; otherwise the copy is open as well
  std::uint64_t unreadable = 0;  ///< lines of the original that are not in the copy
};

/// Writes a copy of a job file that names neither vehicle nor customer nor workshop (Redactor), sealed anew. Its name and its seals
/// say nothing of the original. It gets its name when it is whole and on the disk.
/// in   to       a file that does not exist, or a folder: then the copy is named by its begin and its new id
///      new_job  random id, 32 hex digits
/// err  not a job file · the name is taken · a decoder that cannot be covered · the disk
[[nodiscard]] Result<RedactedJob> redact_job(const std::string& path, const std::string& to,
                                             const std::string& new_job);

}  // namespace sumplog
