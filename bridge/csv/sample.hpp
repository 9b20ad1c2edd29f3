#pragma once
// The beginning of a table, from which a source map is proposed.

#include <iosfwd>
#include <string>
#include <vector>

#include "core/result.hpp"
#include "csv/decode.hpp"

namespace footbridge::csv {

/// The cells of one column that are not blank, in order.
struct SampleColumn {
  std::string name;
  std::vector<std::string> cells;

  /// True if there are cells and each is a number of that mark (or of either, or ends in a sign of
  /// a bound or a unit).
  bool mostlyNumbers() const;

  /// The largest number; 0 if there is none.
  std::size_t largest() const;
};

/// Names and cells as text, with what was found out about the file.
struct Sample {
  char delimiter = ',';
  Encoding encoding = Encoding::Utf8;
  bool decimalComma = false;
  std::vector<SampleColumn> columns;
};

/// Reads at most kSampleRows rows. An issue if there is no header to be made out.
Result<Sample> readSample(std::istream& in, const Issue& nothing);

inline constexpr std::size_t kSampleRows = 500;

/// The patterns for days that the most cells fit (and nine of ten at least), most usual first.
std::vector<std::string> patternsFor(const std::vector<std::string>& cells);

/// True if each cell is an NHS number by its check digit (reference: NHS Data Dictionary).
bool allNhsNumbers(const std::vector<std::string>& cells);

}  // namespace footbridge::csv
