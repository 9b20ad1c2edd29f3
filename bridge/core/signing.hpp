#pragma once
// Signing keys for tokens: made, kept in files, published without their secret (RFC 7515, 7517,
// 7518, 7638).

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include "core/result.hpp"

namespace footbridge {

enum class KeyKind : std::uint8_t {
  Rsa,  ///< 3072 bits; signs RS384 and RS512
  P384  ///< NIST P-384; signs ES384
};

/// RFC 7518 section 3.1: RSASSA-PKCS1-v1_5 or ECDSA over the digest of the name.
enum class Algorithm : std::uint8_t { Rs384, Es384, Rs512 };

/// "RS384", "ES384", "RS512".
std::string_view name(Algorithm algorithm);

/// True if keys of that kind sign so.
bool fits(Algorithm algorithm, KeyKind kind);

/// A private key. Signs in one thread at a time.
class SigningKey {
 public:
  static SigningKey make(KeyKind kind);

  /// From PEM (PKCS #8 or traditional, without passphrase) that nobody else may read. RSA keys
  /// have at least 2048 bits, EC keys are of P-384.
  static Result<SigningKey> fromFile(const std::filesystem::path& file);

  KeyKind kind() const;

  /// PKCS #8 PEM, secret.
  std::string pem() const;

  /// The JSON Web Signature of a text as RFC 7515 wants it: for ES384 the two numbers of 48 bytes
  /// side by side, not ASN.1. `algorithm` fits the key.
  std::string sign(Algorithm algorithm, std::string_view text) const;

  /// The public part as members of a JWK in the order of RFC 7638, without kid: its digest is the
  /// thumbprint.
  std::string publicMembers() const;

  /// RFC 7638, SHA-256, base64url: the kid of our keys.
  std::string thumbprint() const;

  ~SigningKey();
  SigningKey(SigningKey&&) noexcept;
  SigningKey& operator=(SigningKey&&) noexcept;

 private:
  struct State;
  explicit SigningKey(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

/// RFC 4648 section 5, without padding.
std::string base64url(std::string_view bytes);

/// RFC 4648 section 4, with padding.
std::string base64(std::string_view bytes);

/// 128 random bits in hexadecimal digits, never given twice.
std::string randomId();

/// A random UUID (RFC 9562, version 4).
std::string randomUuid();

/// Nothing, or why others than its owner may read a file, and how to mend that.
Issues privacyOf(const std::filesystem::path& file);

}  // namespace footbridge
