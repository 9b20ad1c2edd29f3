#pragma once
// The header row held against the map.

#include <string>
#include <vector>

#include "csv/source_map.hpp"
#include "csv/tokenizer.hpp"
#include "csv/visit.hpp"

namespace footbridge::csv {

/// The columns of a file.
struct Header {
  std::vector<std::string> names;  ///< without blank ones at the end
  std::size_t width = 0;           ///< how many cells it has, with the blank ones at the end
  std::vector<Bound> columns;      ///< of the map, in its order
  std::vector<std::size_t> key;    ///< by whose cells rows of one visit are told apart
};

/// Finds the map's columns. Errors go to `faults` (the file cannot be read), remarks on columns
/// that the map does not name to `notices`.
Header readHeader(const Record& record, const SourceMap& map, const Tables& tables, Issues& faults,
                  Issues& notices);

}  // namespace footbridge::csv
