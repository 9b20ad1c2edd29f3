#pragma once
// Payloads on their way into the store and out of it: compressed, then sealed.

#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "core/seal.hpp"

namespace footbridge::outbox {

/// Compresses with zstd at its fastest ordinary level, whose work on a bundle is less than half of
/// zlib's, and seals. One a thread.
class Packer {
 public:
  explicit Packer(const Sealer& sealer);
  ~Packer();
  Packer(const Packer&) = delete;
  Packer& operator=(const Packer&) = delete;

  std::string pack(std::string_view text, std::string_view context);

  /// Nothing if the bytes were changed, or belong to another context or key.
  std::optional<std::string> unpack(std::string_view packed, std::string_view context);

 private:
  struct State;
  const Sealer& sealer_;
  std::unique_ptr<State> state_;
};

}  // namespace footbridge::outbox
