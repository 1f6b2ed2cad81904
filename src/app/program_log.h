#pragma once
#include <string>

namespace sumplog {

// The log of the program itself, on standard error. The journal is something else, and goes to standard output.

void start_log(bool verbose);
void log_debug(const std::string& text);
void log_info(const std::string& text);
void log_warning(const std::string& text);
void log_error(const std::string& text);

}  // namespace sumplog
