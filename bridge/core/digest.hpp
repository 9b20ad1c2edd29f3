#pragma once
// SHA-256 for the record of what was read, and name-based UUIDs for what is made of it.

#include <array>
#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

namespace footbridge {

/// Two lower-case hexadecimal digits for each byte.
std::string hex(std::string_view bytes);

/// SHA-256 (FIPS 180-4) as 64 lower-case hexadecimal digits.
std::string sha256(std::string_view bytes);

/// A UUID in its text form, 36 characters, lower case.
using Uuid = std::array<char, 36>;

/// The sixteen octets of a namespace.
using UuidNamespace = std::array<std::uint8_t, 16>;

/// Makes version 5 UUIDs (RFC 4122 section 4.3: SHA-1 of namespace and name).
class UuidMaker {
 public:
  explicit UuidMaker(const UuidNamespace& space);
  ~UuidMaker();
  UuidMaker(const UuidMaker&) = delete;
  UuidMaker& operator=(const UuidMaker&) = delete;

  Uuid make(std::string_view name) const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

/// The URL namespace of RFC 4122 appendix C.
extern const UuidNamespace kUrlNamespace;

/// The octets of a UUID's text, to serve as a namespace in its turn.
UuidNamespace octets(const Uuid& uuid);

inline std::string_view view(const Uuid& uuid) { return {uuid.data(), uuid.size()}; }

}  // namespace footbridge
