#pragma once
// From the id of a row to its place, by hash: grading and packaging ask some thousand times a
// visit, which is why this is neither a search nor one of the library's maps (half the time of a
// look-up went into their hash).

#include <bit>
#include <cstdint>
#include <cstring>
#include <string>
#include <string_view>
#include <vector>

namespace footbridge {

/// The places of rows that have a member `id`. Made once the rows stand still; the rows keep the
/// texts.
class Ids {
 public:
  template <class Row>
  void index(const std::vector<Row>& rows) {
    slots_.assign(std::bit_ceil(2 * rows.size() + 1), {});
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const std::uint32_t hash = hashOf(rows[i].id);
      std::size_t at = hash & (slots_.size() - 1);
      while (slots_[at].place != kFree) at = (at + 1) & (slots_.size() - 1);
      slots_[at] = {hash, static_cast<std::uint32_t>(i)};
    }
  }

  /// The row with that id (the first, if there are several), or nullptr. `rows` are those that were
  /// indexed.
  template <class Row>
  const Row* find(const std::vector<Row>& rows, std::string_view id) const {
    if (slots_.empty()) return nullptr;
    const std::uint32_t hash = hashOf(id);
    std::size_t at = hash & (slots_.size() - 1);
    for (; slots_[at].place != kFree; at = (at + 1) & (slots_.size() - 1)) {
      const Row& row = rows[slots_[at].place];
      if (slots_[at].hash == hash && row.id == id) return &row;
    }
    return nullptr;
  }

 private:
  static constexpr std::uint32_t kFree = 0xFFFFFFFFU;
  struct Slot {
    std::uint32_t hash = 0;
    std::uint32_t place = kFree;
  };

  /// Eight bytes at a time, multiplied and folded; ids come from our own tables, not from senders.
  static std::uint32_t hashOf(std::string_view id) {
    constexpr std::uint64_t kFactor = 0x9E3779B97F4A7C15U;  // 2^64 over the golden ratio
    std::uint64_t hash = id.size();
    while (!id.empty()) {
      std::uint64_t part = 0;
      const std::size_t size = id.size() < sizeof part ? id.size() : sizeof part;
      std::memcpy(&part, id.data(), size);
      hash = (hash ^ part) * kFactor;
      hash ^= hash >> 32U;
      id.remove_prefix(size);
    }
    return static_cast<std::uint32_t>(hash);
  }

  std::vector<Slot> slots_;
};

}  // namespace footbridge
