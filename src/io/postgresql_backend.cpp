#include "io/postgresql_backend.h"

#include <dlfcn.h>
#include <soci/version.h>

#include <string>

namespace sumplog {

Result<const soci::backend_factory*> postgresql_backend() {
  // src  soci/version.h: the library carries major and minor version in its name
  const std::string version =
      std::to_string(SOCI_VERSION / 100000) + "." + std::to_string(SOCI_VERSION / 100 % 1000);
  const std::string library = "libsoci_postgresql.so." + version;
  const auto missing = [&] {
    const char* const why = ::dlerror();
    return fault("PostgreSQL cannot be used: " + std::string(why != nullptr ? why : library), {},
                 "install libsoci-postgresql" + version + ", or name a file with --index");
  };
  // Never unloaded: its sessions and exceptions may live as long as the program.
  void* const loaded = ::dlopen(library.c_str(), RTLD_NOW | RTLD_NODELETE);
  if (loaded == nullptr) return missing();
  using Factory = const soci::backend_factory* (*)();
  const auto factory = reinterpret_cast<Factory>(::dlsym(loaded, "factory_postgresql"));
  if (factory == nullptr) return missing();
  return factory();
}

}  // namespace sumplog
