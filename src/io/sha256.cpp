#include "io/sha256.h"

#include <openssl/evp.h>

#include <array>
#include <stdexcept>

namespace sumplog {
namespace {

void must(int result) {
  if (result != 1) throw std::runtime_error("libcrypto cannot compute SHA-256");
}

}  // namespace

void Sha256::Free::operator()(evp_md_ctx_st* context) const {
  EVP_MD_CTX_free(context);
}

Sha256::Context Sha256::new_context() {
  Context context(EVP_MD_CTX_new());
  if (!context) throw std::bad_alloc();
  return context;
}

Sha256::Sha256() : context_(new_context()) {
  must(EVP_DigestInit_ex(context_.get(), EVP_sha256(), nullptr));
}

Sha256::Sha256(const Sha256& other) : context_(new_context()) {
  must(EVP_MD_CTX_copy_ex(context_.get(), other.context_.get()));
}

Sha256& Sha256::operator=(const Sha256& other) {
  if (this == &other) return *this;
  if (!context_) context_ = new_context();
  must(EVP_MD_CTX_copy_ex(context_.get(), other.context_.get()));
  return *this;
}

void Sha256::update(std::string_view bytes) {
  must(EVP_DigestUpdate(context_.get(), bytes.data(), bytes.size()));
}

std::string Sha256::hex() const {
  // The digest is taken from a copy, because finishing a context ends its stream.
  const Sha256 copy(*this);
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned length = 0;
  must(EVP_DigestFinal_ex(copy.context_.get(), digest.data(), &length));
  constexpr char kDigits[] = "0123456789abcdef";
  std::string text;
  text.reserve(std::size_t{2} * length);
  for (unsigned i = 0; i < length; ++i) {
    text += kDigits[digest[i] >> 4];
    text += kDigits[digest[i] & 15];
  }
  return text;
}

}  // namespace sumplog
