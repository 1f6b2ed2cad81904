#pragma once
#include <optional>
#include <string>

#include "app/command_words.h"

namespace sumplog {

/// What completes the value of an option, or a word at its place.
struct ValueKind {
  enum class By {
    nothing,  ///< only the person knows it
    words,    ///< one of `words`
    file,
    folder,
    job,        ///< a file, or the name of a job in the data folder
    decoder,    ///< an id, or a folder
    interface,  ///< a CAN interface, or a serial port
  } by = By::nothing;
  std::string words;  ///< with blanks between them
};

/// err  nothing: nobody has said yet what completes it (value_kind.cpp)
[[nodiscard]] std::optional<ValueKind> value_kind(const OptionWords& option);

}  // namespace sumplog
