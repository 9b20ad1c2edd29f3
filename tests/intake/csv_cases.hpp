#pragma once
// Tables and source maps as cases: what is changed in a good pair, and what is then remarked.

#include <ostream>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "intake_cases.hpp"

namespace footbridge::test {

/// A text that is replaced by another wherever it stands. An empty `from` stands for the whole.
struct Swap {
  std::string from;
  std::string to;
};

struct CsvCase {
  std::string_view name;
  std::string_view rule;
  Expect expect;
  std::string_view place;  ///< of the issue, if it fires
  enum class Layout { Visits, Readings } layout;
  std::vector<Swap> map;
  std::vector<Swap> table;
  std::string_view source = "docs/source-maps.md";
};

std::ostream& operator<<(std::ostream& out, const CsvCase& value);

std::span<const CsvCase> csvCases();

/// The good pairs.
std::string goodMap(CsvCase::Layout layout);
std::string goodTable(CsvCase::Layout layout);

/// The text with the swaps made; a `from` that does not stand in it fails the test.
std::string swapped(std::string text, const std::vector<Swap>& swaps);

/// All that is remarked on a table read through a map, from the map itself to the assessments.
Issues issuesOfTable(const std::string& map, const std::string& table);

/// The assessments of a table, as JSON.
std::vector<std::string> textsOfTable(const std::string& map, const std::string& table);

}  // namespace footbridge::test
