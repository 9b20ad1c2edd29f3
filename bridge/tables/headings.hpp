#pragma once
// Rows of headings.json: words by which a source map is proposed for a table.

#include <string>
#include <vector>

namespace footbridge {

/// What a word in a heading or a cell may mean.
struct HeadingRow {
  std::string id;
  std::string part;   ///< "side" | "unit" | "kind" | "place" | "field" | "weak" | "note" | "ignore"
                      ///< | "fill" | "cell"
  std::string means;  ///< by part: side, unit, step or path of the input, reason, TOML of a cell
  std::vector<std::string> words;  ///< lower case, blanks between words
  std::string kind;                ///< cells: "pressure", "any" or the word list they are for
  std::string doubt;               ///< what else it may mean, "" if that is clear
  bool clinical = false;           ///< cells in doubt: a wrong guess would be a finding
  std::string system;              ///< fields: the identifier system
};

}  // namespace footbridge
