#include "io/job_file_name.h"

#include <cstdint>
#include <ctime>

namespace sumplog {

std::string job_file_name(TimePoint began, std::string_view job) {
  constexpr std::size_t kIdDigits = 8;  // of 32: enough to tell the jobs of one second apart
  constexpr std::int64_t kSecond_us = 1000000;
  const auto seconds = static_cast<std::time_t>(micros(began) / kSecond_us);
  std::tm utc{};
  gmtime_r(&seconds, &utc);
  char begin[32];
  std::strftime(begin, sizeof begin, "%Y%m%d-%H%M%S-", &utc);
  std::string name = begin;
  for (const char c : job.substr(0, kIdDigits))
    if ((c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z')) name += c;
  return name + ".log";
}

}  // namespace sumplog
