#pragma once
// A draft as TOML.

#include <string>
#include <vector>

#include "csv/guess.hpp"

namespace footbridge::csv {

/// A line of [words].
struct WordGuess {
  std::string word;
  std::string means;  ///< TOML
  std::string doubt;
  bool commented = false;
};

struct Draft {
  std::string name;
  const Sample* sample = nullptr;
  bool rowIsReading = false;
  std::vector<Guess> columns;
  std::vector<Guess> readings;  ///< rows of one reading: their names
  std::vector<WordGuess> words;

  /// Adds a word, once; one that means different things in different columns is left to the reader.
  void addWord(WordGuess word);
};

std::string textOf(const Draft& draft);

}  // namespace footbridge::csv
