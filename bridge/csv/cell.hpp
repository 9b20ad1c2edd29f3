#pragma once
// One cell as a reading in the form of docs/input.md. What a cell may hold without a word table is
// listed in docs/source-maps.md; everything else is refused rather than guessed.

#include <optional>
#include <string>
#include <string_view>

#include "core/issue.hpp"
#include "core/text.hpp"
#include "csv/source_map.hpp"
#include "json/value.hpp"

namespace footbridge::csv {

/// Where a cell stands and where remarks on it go.
struct CellPlace {
  const SourceMap& map;
  const Tables& tables;
  Issues& issues;
  std::string place;  ///< "row 14, column 'R DP mmHg'"

  void remark(std::string_view rule, Arguments arguments) const {
    issues.push_back(issue(tables.rule(rule), place, arguments));
  }
};

/// The reading in a cell that is not blank. Nothing where the map says that the word stands for
/// nothing recorded, and nothing with an issue where the cell cannot be read.
std::optional<json::Value> readingIn(std::string_view cell, const Target& target,
                                     const CellPlace& place);

/// What the map says of a cell, or nullptr: words of the column first, then words of all columns as
/// far as the item can hold them.
const json::Value* meaningOf(std::string_view cell, const Target& target, const CellPlace& place);

/// "9.99E+09": what is left of a long number in a spreadsheet's general format.
bool looksScientific(std::string_view cell);

}  // namespace footbridge::csv
