#pragma once
// From the id of a row to its place, by hash: grading and packaging ask some thousand times a
// visit.

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

namespace footbridge {

/// The places of rows that have a member `id`. Made once the rows stand still.
class Ids {
 public:
  template <class Row>
  void index(const std::vector<Row>& rows) {
    places_.clear();
    for (std::size_t i = 0; i < rows.size(); ++i) places_.emplace(rows[i].id, i);
  }

  /// The row with that id, or nullptr. `rows` are those that were indexed.
  template <class Row>
  const Row* find(const std::vector<Row>& rows, std::string_view id) const {
    const auto found = places_.find(id);
    return found == places_.end() ? nullptr : &rows[found->second];
  }

 private:
  struct Hash : std::hash<std::string_view> {
    using is_transparent = void;
  };
  std::unordered_map<std::string, std::size_t, Hash, std::equal_to<>> places_;
};

}  // namespace footbridge
