#pragma once
// What a column seems to hold, by its heading and its cells. A guess about a side is never made:
// what does not name one is left out of the draft, and says so.

#include <map>
#include <string>
#include <vector>

#include "csv/heading.hpp"
#include "csv/places.hpp"
#include "csv/sample.hpp"

namespace footbridge::csv {

/// One line of a draft.
struct Guess {
  const SampleColumn* column = nullptr;
  std::string path = "ignore";
  std::string unit;                          ///< "kPa", "mmHg" or "" if nothing says it
  std::string system;                        ///< identifiers, "" for one below the map's base
  std::string date;                          ///< pattern, "" for the one of the file
  std::map<std::string, std::string> words;  ///< by the cell's text, folded: TOML
  std::vector<std::string> doubts;
  std::string reason;  ///< why a column is ignored without doubt
  bool fused = false;  ///< the side was read off the front of a word

  void leaveOut(std::string doubt) {
    path = "ignore";
    doubts.push_back(std::move(doubt));
  }
};

/// Guesses with the words and places at hand.
class Guesser {
 public:
  Guesser(const Tables& tables, const HeadingWords& words, const Places& places)
      : tables_(tables), words_(words), places_(places) {}

  /// A column of a table with one row an assessment (or the columns of the visit in one with one
  /// row a reading).
  Guess column(const SampleColumn& column) const;

  /// The name of a reading in a table with one row a reading, with the cells of its values. The
  /// path keeps {side} where the name does not say it.
  Guess reading(const SampleColumn& values) const;

  /// The item at a path, or nullptr.
  const ItemRow* item(const std::string& path) const;

  /// "pressure" for items that hold numbers, else the word list.
  static std::string kindOf(const ItemRow& row);

 private:
  void findPath(Guess& guess, const HeadingParts& parts) const;
  void findArtery(Guess& guess, const HeadingParts& parts) const;
  std::string artery(const std::string& place, const SampleColumn& column, std::string kind) const;
  bool anyWordOf(const SampleColumn& column, const std::string& list) const;
  void checkCells(Guess& guess) const;
  Guess common(const SampleColumn& column, const HeadingParts& parts) const;

  const Tables& tables_;
  const HeadingWords& words_;
  const Places& places_;
};

}  // namespace footbridge::csv
