#pragma once
// Small services on text that several folders need.

#include <cstddef>
#include <cstdint>
#include <initializer_list>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/hashed_text.hpp"

namespace footbridge {

/// The candidate with the fewest edits (Levenshtein), or "" if none is within a third of its
/// length.
std::string_view nearest(std::string_view word, std::span<const std::string> candidates);

/// What is put into a sentence where its name stands in braces.
struct Argument {
  HashedText name;
  std::string_view value;
};
using Arguments = std::initializer_list<Argument>;

/// A sentence with names in braces, taken apart once to be filled often: "is {value}" filled with
/// {{"value", "98"}} is "is 98". A name in braces without an argument stays as it is, which the
/// tests of the rule table look for.
class Sentence {
 public:
  Sentence() = default;
  explicit Sentence(std::string text);

  const std::string& text() const { return text_; }
  std::string fill(Arguments arguments) const;
  /// With those put in that are always the same.
  Sentence with(Arguments arguments) const { return Sentence(fill(arguments)); }

 private:
  /// A name with its braces.
  struct Gap {
    std::size_t begin;
    std::size_t end;
    std::uint32_t name;  ///< its hash
  };
  std::string_view valueOf(const Gap& gap, Arguments arguments) const;

  std::string text_;
  std::vector<Gap> gaps_;
};

/// The same for a sentence that is filled once.
std::string fill(std::string_view sentence, Arguments arguments);

/// True if the bytes are UTF-8 (RFC 3629): no overlong form, no surrogate, nothing above U+10FFFF.
bool validUtf8(std::string_view bytes);

/// True of a-z, 0-9, - and _, at most 40 of them: names that may stand in a column, on a command
/// line and in a file name without quoting.
bool plainName(std::string_view name);

/// The text without white space at either end.
std::string_view trimmed(std::string_view text);

/// The beginning of a UTF-8 text, at most `limit` bytes, never half a character.
std::string_view shortened(std::string_view text, std::size_t limit);

/// The text with U+FFFD for control characters, line breaks too, and bytes that are no UTF-8: what
/// others wrote must neither steer a terminal nor look like a line of ours, nor break one.
std::string printable(std::string_view text);

}  // namespace footbridge
