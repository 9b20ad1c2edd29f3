#pragma once
// Texts that are looked up by hash.

#include <bit>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <string>
#include <string_view>
#include <type_traits>

namespace footbridge {

/// Whether two texts are the same. For short ones, as ids and names are: a call of the library for
/// each costs more than the comparison.
inline bool sameText(std::string_view a, std::string_view b) {
  if (a.size() != b.size()) return false;
  const auto differ = [&](std::size_t at, auto block) {
    auto other = block;
    std::memcpy(&block, a.data() + at, sizeof block);
    std::memcpy(&other, b.data() + at, sizeof other);
    return block != other;
  };
  std::size_t at = 0;
  for (; at + 8 <= a.size(); at += 8) {
    if (differ(at, std::uint64_t{})) return false;
  }
  if (at == a.size()) return true;
  if (at > 0) return !differ(a.size() - 8, std::uint64_t{});
  for (; at < a.size(); ++at) {
    if (a[at] != b[at]) return false;
  }
  return true;
}

/// A text and its hash, which the compiler takes of a literal: asking for a row by an id that code
/// names then costs no more than a comparison. Does not own its text. For ids and names of our own;
/// texts of senders could be made to collide.
class HashedText {
 public:
  template <std::size_t N>
  consteval HashedText(const char (&text)[N])  // NOLINT(*-avoid-c-arrays): the type of a literal
      : HashedText(std::string_view(text, N - 1)) {}
  constexpr HashedText(std::string_view text) : text_(text), hash_(hashOf(text)) {}
  HashedText(const std::string& text) : HashedText(std::string_view(text)) {}

  constexpr std::string_view text() const { return text_; }
  constexpr std::uint32_t hash() const { return hash_; }
  bool operator==(const HashedText& other) const {
    return hash_ == other.hash_ && sameText(text_, other.text_);
  }

 private:
  /// Eight bytes at a time, multiplied and folded.
  static constexpr std::uint32_t hashOf(std::string_view id) {
    constexpr std::uint64_t kFactor = 0x9E3779B97F4A7C15U;  // 2^64 over the golden ratio
    std::uint64_t hash = id.size();
    while (!id.empty()) {
      const std::size_t size = id.size() < sizeof hash ? id.size() : sizeof hash;
      hash = (hash ^ firstBytes(id.data(), size)) * kFactor;
      hash ^= hash >> 32U;
      id.remove_prefix(size);
    }
    return static_cast<std::uint32_t>(hash);
  }

  /// Up to eight bytes as a number, the first of them the lowest.
  static constexpr std::uint64_t firstBytes(const char* bytes, std::size_t size) {
    std::uint64_t out = 0;
    if (!std::is_constant_evaluated() && std::endian::native == std::endian::little) {
      std::memcpy(&out, bytes, size);
      return out;
    }
    for (std::size_t i = 0; i < size; ++i) {
      out |= std::uint64_t{static_cast<unsigned char>(bytes[i])} << (8 * i);
    }
    return out;
  }

  std::string_view text_;
  std::uint32_t hash_;
};

/// The first if the condition holds, else the second. Clang 14 does not survive literals that
/// become hashed in the branches of a conditional expression.
constexpr HashedText choose(bool condition, HashedText first, HashedText second) {
  return condition ? first : second;
}

}  // namespace footbridge
