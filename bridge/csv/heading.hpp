#pragma once
// What the heading of a column seems to mean, by the words of mapping/headings.json.

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "tables/tables.hpp"

namespace footbridge::csv {

/// The parts of a heading. Nothing is concluded here.
struct HeadingParts {
  std::vector<const HeadingRow*> rows;   ///< in the order of the heading
  std::vector<std::string> unexplained;  ///< words that no row has
  bool fused = false;                    ///< a side was read off the front of a word: "RDP"

  /// The first row of that part, or nullptr.
  const HeadingRow* first(std::string_view part) const;

  /// True if rows of that part mean different things.
  bool contradicts(std::string_view part) const;
};

/// Takes headings apart. Made once for a draft.
class HeadingWords {
 public:
  explicit HeadingWords(const Tables& tables);

  HeadingParts read(std::string_view heading) const;

  /// The meaning of a word in a cell for a kind of reading ("pressure", or a word list), or
  /// nullptr.
  const HeadingRow* cell(std::string_view word, std::string_view kind) const;

 private:
  std::vector<std::string> split(std::string_view heading, bool& fused) const;
  bool known(const std::string& word) const { return single_.contains(word); }

  const Tables& tables_;
  std::map<std::string, const HeadingRow*, std::less<>> phrases_;
  std::map<std::string, int, std::less<>> single_;  ///< every word of every phrase
};

}  // namespace footbridge::csv
