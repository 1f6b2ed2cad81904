#include "io/sha256.h"

#include <gtest/gtest.h>

#include <string>

namespace sumplog {
namespace {

std::string sha256(std::string_view bytes) {
  Sha256 hash;
  hash.update(bytes);
  return hash.hex();
}

TEST(Sha256, GivesTheDigestsOfTheStandardsExamples) {
  // NIST, "SHA256.pdf" of the Cryptographic Standards examples: one block, two blocks.
  EXPECT_EQ(sha256("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  // FIPS 180-2, appendix B.3: one million times "a".
  EXPECT_EQ(sha256(std::string(1'000'000, 'a')),
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
  // NIST CAVP, SHA256ShortMsg.rsp, Len = 0.
  EXPECT_EQ(sha256(""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST(Sha256, AskingForADigestDoesNotEndTheStream) {
  Sha256 hash;
  hash.update("a");
  EXPECT_EQ(hash.hex(), sha256("a"));
  EXPECT_EQ(hash.hex(), sha256("a"));
  hash.update("bc");
  EXPECT_EQ(hash.hex(), sha256("abc"));
}

TEST(Sha256, ACopyGoesItsOwnWay) {
  Sha256 hash;
  hash.update("ab");
  Sha256 copy = hash;
  copy.update("x");
  hash.update("c");
  EXPECT_EQ(hash.hex(), sha256("abc"));
  EXPECT_EQ(copy.hex(), sha256("abx"));
  copy = hash;
  EXPECT_EQ(copy.hex(), sha256("abc"));
}

}  // namespace
}  // namespace sumplog
