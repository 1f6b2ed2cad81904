#pragma once
#include <string>

#include "core/item/result.h"

namespace sumplog {

/// The token that a client from the network must have: drawn when it is first needed, kept in `folder`/page-token, readable for
/// this user alone. Whoever removes the file has a new one drawn.
/// err  the disk; a file that holds no token
[[nodiscard]] Result<std::string> page_token(const std::string& folder);

}  // namespace sumplog
