#include "app/program_log.h"

#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

namespace sumplog {

void start_log(bool verbose) {
  auto logger = spdlog::stderr_logger_st("sumplog");
  logger->set_pattern("sumplog: %l: %v");
  logger->set_level(verbose ? spdlog::level::debug : spdlog::level::info);
  spdlog::set_default_logger(std::move(logger));
}

void log_debug(const std::string& text) {
  spdlog::debug("{}", text);
}
void log_info(const std::string& text) {
  spdlog::info("{}", text);
}
void log_warning(const std::string& text) {
  spdlog::warn("{}", text);
}
void log_error(const std::string& text) {
  spdlog::error("{}", text);
}

}  // namespace sumplog
