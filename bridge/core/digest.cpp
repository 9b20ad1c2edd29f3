// SHA-1 by OpenSSL's plain functions: what EVP does around a digest of one or two blocks takes
// longer than the digest, and a UUID is a name, nothing that has to be safe.
#define OPENSSL_SUPPRESS_DEPRECATED

#include "core/digest.hpp"

#include <openssl/evp.h>
#include <openssl/sha.h>

#include <array>
#include <cassert>
#include <cstring>
#include <memory>

namespace footbridge {
namespace {

constexpr std::string_view kHex = "0123456789abcdef";

/// The two digits of each octet.
constexpr auto kHexPairs = [] {
  std::array<std::array<char, 2>, 256> out{};
  for (std::size_t i = 0; i < out.size(); ++i) out[i] = {kHex[i >> 4U], kHex[i & 15U]};
  return out;
}();

std::uint8_t hexValue(char c) {
  return static_cast<std::uint8_t>(c <= '9' ? c - '0' : c - 'a' + 10);
}

}  // namespace

const UuidNamespace kUrlNamespace{0x6b, 0xa7, 0xb8, 0x11, 0x9d, 0xad, 0x11, 0xd1,
                                  0x80, 0xb4, 0x00, 0xc0, 0x4f, 0xd4, 0x30, 0xc8};

std::string hex(std::string_view bytes) {
  std::string out;
  out.reserve(2 * bytes.size());
  for (const char c : bytes) {
    const std::array<char, 2>& pair = kHexPairs[static_cast<unsigned char>(c)];
    out.append(pair.data(), pair.size());
  }
  return out;
}

std::string sha256(std::string_view bytes) {
  std::array<unsigned char, 32> digest{};
  unsigned int size = 0;
  [[maybe_unused]] const int done =
      EVP_Digest(bytes.data(), bytes.size(), digest.data(), &size, EVP_sha256(), nullptr);
  assert(done == 1 && size == digest.size());
  return hex(std::string_view(static_cast<const char*>(static_cast<const void*>(digest.data())),
                              digest.size()));
}

struct UuidMaker::State {
  SHA_CTX begun{};  ///< has taken in the namespace
};

UuidMaker::UuidMaker(const UuidNamespace& space) : state_(std::make_unique<State>()) {
  SHA1_Init(&state_->begun);
  SHA1_Update(&state_->begun, space.data(), space.size());
}

UuidMaker::~UuidMaker() = default;

Uuid UuidMaker::make(std::string_view name) const {
  std::array<unsigned char, SHA_DIGEST_LENGTH> hash{};
  SHA_CTX context = state_->begun;
  SHA1_Update(&context, name.data(), name.size());
  SHA1_Final(hash.data(), &context);
  hash[6] = static_cast<unsigned char>((hash[6] & 0x0F) | 0x50);  // version 5
  hash[8] = static_cast<unsigned char>((hash[8] & 0x3F) | 0x80);  // variant of RFC 4122
  // Where the two digits of each octet stand.
  static constexpr std::array<std::size_t, 16> kPlaces{0,  2,  4,  6,  9,  11, 14, 16,
                                                       19, 21, 24, 26, 28, 30, 32, 34};
  Uuid out{};
  for (const std::size_t dash : {8U, 13U, 18U, 23U}) out[dash] = '-';
  for (std::size_t i = 0; i < kPlaces.size(); ++i) {
    std::memcpy(out.data() + kPlaces[i], kHexPairs[hash[i]].data(), kHexPairs[hash[i]].size());
  }
  return out;
}

UuidNamespace octets(const Uuid& uuid) {
  UuidNamespace out{};
  std::size_t nibble = 0;
  for (const char c : uuid) {
    if (c == '-') continue;
    auto& octet = out[nibble / 2];
    octet = static_cast<std::uint8_t>(octet << 4 | hexValue(c));
    ++nibble;
  }
  return out;
}

}  // namespace footbridge
