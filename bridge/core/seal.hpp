#pragma once
// Sealing of patient data at rest, and keyed hashes by which records are found without saying whose
// they are.

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "core/result.hpp"

namespace footbridge {

/// Seals with AES-256-GCM (NIST SP 800-38D) under a key of its own file. The nonce of 96 bits is
/// random for each text, which is sound for up to 2^32 texts under one key. Safe for use by several
/// threads.
class Sealer {
 public:
  /// Reads the key (64 hexadecimal digits) from a file that nobody else may read. Creates it, 0600,
  /// if `absent` says so and there is none.
  enum class Absent : std::uint8_t { Create, Refuse };
  static Result<Sealer> fromKeyFile(const std::filesystem::path& file, Absent absent);

  /// Nonce, ciphertext and tag. `context` is not kept but has to be the same when it is opened, so
  /// that one sealed text cannot stand in for another.
  std::string seal(std::string_view text, std::string_view context) const;

  /// The text, or nothing if the bytes, the context or the key are not those of the sealing.
  std::optional<std::string> open(std::string_view sealed, std::string_view context) const;

  /// 16 bytes of HMAC-SHA-256 under a second key: equal for equal texts, telling nothing without
  /// the key.
  std::string keyedHash(std::string_view text) const;

  ~Sealer();
  Sealer(Sealer&&) noexcept;
  Sealer& operator=(Sealer&&) noexcept;

 private:
  struct State;
  explicit Sealer(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace footbridge
