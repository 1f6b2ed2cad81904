#pragma once
#include <memory>
#include <string>
#include <string_view>

// The context of libcrypto, kept out of every file but sha256.cpp.
struct evp_md_ctx_st;

namespace sumplog {

/// SHA-256 over a stream of bytes: a digest can be asked for at any place, and the stream goes on.
/// err  a libcrypto that cannot do SHA-256 throws std::runtime_error (a broken installation)
/// src  FIPS 180-4
class Sha256 {
 public:
  Sha256();
  Sha256(const Sha256& other);
  Sha256& operator=(const Sha256& other);
  Sha256(Sha256&&) noexcept = default;
  Sha256& operator=(Sha256&&) noexcept = default;
  ~Sha256() = default;

  void update(std::string_view bytes);
  /// Digest of all bytes so far: 64 lower-case hex digits.
  [[nodiscard]] std::string hex() const;

 private:
  struct Free {
    void operator()(evp_md_ctx_st* context) const;
  };
  using Context = std::unique_ptr<evp_md_ctx_st, Free>;
  [[nodiscard]] static Context new_context();
  Context context_;
};

}  // namespace sumplog
