#pragma once
// Records of a file one after another, as a spreadsheet would number them.

#include <iosfwd>
#include <optional>
#include <string>

#include "csv/tokenizer.hpp"

namespace footbridge::csv {

/// A record that is not blank. `number` is its row in a spreadsheet: blank rows count, the line
/// "sep=;" does not.
struct Numbered {
  Record record;
  std::size_t number = 0;
};

/// Reads a stream to its end, in the memory of its largest record. A byte-order mark and the line
/// "sep=;" that a spreadsheet writes are kept in Record::raw of the first record and otherwise
/// passed over.
class Rows {
 public:
  Rows(std::istream& in, char delimiter) : in_(in), tokenizer_(delimiter) {}

  std::optional<Numbered> next();

 private:
  bool pull(char& c);
  std::optional<Record> record();

  std::istream& in_;
  Tokenizer tokenizer_;
  std::string back_;  ///< bytes to be taken again
  std::size_t backAt_ = 0;
  std::size_t number_ = 0;
  bool ended_ = false;
};

/// True if every cell is blank.
bool blank(const Record& record);

}  // namespace footbridge::csv
