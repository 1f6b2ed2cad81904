#include "io/base64.h"

#include <openssl/evp.h>

#include <algorithm>

namespace sumplog {

std::string base64(std::string_view bytes) {
  // libcrypto counts in int: so many bytes at a time, a multiple of three, so that only the last piece is padded.
  constexpr std::size_t kPiece = 3U << 20;
  std::string text;
  text.reserve((bytes.size() + 2) / 3 * 4);
  while (!bytes.empty()) {
    const std::string_view piece = bytes.substr(0, std::min(kPiece, bytes.size()));
    std::string encoded((piece.size() + 2) / 3 * 4 + 1, '\0');  // it ends what it writes with a zero
    const int length =
        EVP_EncodeBlock(reinterpret_cast<unsigned char*>(encoded.data()),
                        reinterpret_cast<const unsigned char*>(piece.data()), static_cast<int>(piece.size()));
    text.append(encoded, 0, static_cast<std::size_t>(length));
    bytes.remove_prefix(piece.size());
  }
  return text;
}

}  // namespace sumplog
