#pragma once
// The places of an assessment that a map can name, in the dotted writing of docs/input.md.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "csv/source_map.hpp"

namespace footbridge::csv {

/// All places, by name. Made once for a map.
class Places {
 public:
  explicit Places(const Tables& tables);

  /// The target of "legs.right.ankle.dorsalisPedis", "arms.{side}.systolic", "patient.family",
  /// "legs.left.tcpo2.note"; nothing if there is no such place.
  std::optional<Target> find(std::string_view path) const;

  /// The name that was probably meant, or "".
  std::string_view nearestTo(std::string_view path) const;

 private:
  std::vector<std::string> names_;
  std::vector<Target> targets_;
};

}  // namespace footbridge::csv
