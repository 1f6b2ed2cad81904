#pragma once
#include "core/item/result.h"

namespace soci {
class backend_factory;
}

namespace sumplog {

/// SOCI's part for PostgreSQL. It brings some thirty libraries, a third of the time in which the program starts, and a bay with an
/// index of its own never needs it: so it is loaded by the first index on a server.
/// err  it is not installed
[[nodiscard]] Result<const soci::backend_factory*> postgresql_backend();

}  // namespace sumplog
