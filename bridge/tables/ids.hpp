#pragma once
// From the id of a row to its place, by hash: grading and packaging ask some thousand times a
// visit, which is why this is neither a search nor one of the library's maps (half the time of a
// look-up went into their hash).

#include <bit>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "core/hashed_text.hpp"

namespace footbridge {

using RowId = HashedText;

/// The places of rows that have a member `id`. Made once the rows stand still; the rows keep the
/// texts.
class Ids {
 public:
  template <class Row>
  void index(const std::vector<Row>& rows) {
    slots_.assign(std::bit_ceil(2 * rows.size() + 1), {});
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const std::uint32_t hash = RowId(rows[i].id).hash();
      std::size_t at = hash & (slots_.size() - 1);
      while (slots_[at].place != kFree) at = (at + 1) & (slots_.size() - 1);
      slots_[at] = {hash, static_cast<std::uint32_t>(i)};
    }
  }

  /// The row with that id (the first, if there are several), or nullptr. `rows` are those that were
  /// indexed.
  template <class Row>
  const Row* find(const std::vector<Row>& rows, RowId id) const {
    if (slots_.empty()) return nullptr;
    std::size_t at = id.hash() & (slots_.size() - 1);
    for (; slots_[at].place != kFree; at = (at + 1) & (slots_.size() - 1)) {
      const Row& row = rows[slots_[at].place];
      if (slots_[at].hash == id.hash() && sameText(row.id, id.text())) return &row;
    }
    return nullptr;
  }

 private:
  static constexpr std::uint32_t kFree = 0xFFFFFFFFU;
  struct Slot {
    std::uint32_t hash = 0;
    std::uint32_t place = kFree;
  };

  std::vector<Slot> slots_;
};

}  // namespace footbridge
