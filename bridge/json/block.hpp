#pragma once
// Looks at many bytes of a text at once.

#include <array>
#include <cstdint>
#include <cstring>
#include <string_view>

namespace footbridge::json {

/// Sixteen bytes at once; GCC and clang make vector instructions of what is done with them.
using Block = std::uint8_t __attribute__((vector_size(16)));

constexpr Block all(char c) {
  const auto byte = static_cast<std::uint8_t>(c);
  return Block{} + byte;
}

inline bool any(const Block& hits) {
  std::array<std::uint64_t, 2> halves{};
  std::memcpy(halves.data(), &hits, sizeof hits);
  return (halves[0] | halves[1]) != 0;
}

/// What What::hits() finds in the block that begins there.
template <class What>
Block hitsAt(const char* bytes) {
  Block block;
  std::memcpy(&block, bytes, sizeof block);
  return What::hits(block);
}

/// Whether a text of at least one block holds nothing of that; its last block may overlap the one
/// before.
template <class What>
bool isFree(std::string_view text) {
  const std::size_t last = text.size() - sizeof(Block);
  Block hits = hitsAt<What>(text.data() + last);
  for (std::size_t at = 0; at < last; at += sizeof(Block)) hits |= hitsAt<What>(text.data() + at);
  return !any(hits);
}

}  // namespace footbridge::json
