#pragma once
// What a sender says of a visit, gathered as cells with the column that each is read by.

#include <string>
#include <string_view>
#include <vector>

#include "csv/visit.hpp"

namespace footbridge::csv {

/// Cells, and what there is to say of them.
struct Cells {
  std::vector<Column> columns;
  std::vector<std::string> texts;
  std::vector<std::string> places;
  Issues issues;
  bool withdrawn = false;  ///< the whole assessment; its readings are not looked at

  void add(Role role, std::string_view pointer, std::string text, std::string place,
           std::string_view system = {});
};

/// The columns of a reading: which, side, value, unit, note.
std::vector<Column> readingColumns(const std::array<std::string_view, 5>& names);

/// The cells as the first row of a visit, so many columns wide.
Row rowOf(Cells cells, std::size_t width, std::string_view word, std::size_t number);

/// A row of one reading, its cells moved behind so many of the visit.
Row behind(Row reading, std::size_t width);

}  // namespace footbridge::csv
