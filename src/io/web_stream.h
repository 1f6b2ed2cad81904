#pragma once
#include <chrono>
#include <memory>
#include <string>

#include "core/item/result.h"
#include "io/web_client.h"

namespace sumplog {

/// An answer without an end, read as it comes: the events of a job that is held elsewhere.
class WebStream {
 public:
  /// err  nobody listens · no head of an answer within `patience` · another status than 200
  [[nodiscard]] static Result<WebStream> open(const WebPlace& place, const std::string& target,
                                              std::chrono::milliseconds patience);
  ~WebStream();
  WebStream(WebStream&&) noexcept;
  WebStream& operator=(WebStream&&) noexcept;

  /// What came of the body within `patience`; it returns as soon as something came. Empty: nothing did.
  /// err  the other side is gone
  [[nodiscard]] Result<std::string> read(std::chrono::milliseconds patience);

 private:
  struct Parts;
  explicit WebStream(std::unique_ptr<Parts> parts);
  std::unique_ptr<Parts> parts_;
};

}  // namespace sumplog
