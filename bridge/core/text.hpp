#pragma once
// Small services on text that several folders need.

#include <initializer_list>
#include <span>
#include <string>
#include <string_view>
#include <utility>

namespace footbridge {

/// The candidate with the fewest edits (Levenshtein), or "" if none is within a third of its
/// length.
std::string_view nearest(std::string_view word, std::span<const std::string> candidates);

using Arguments = std::initializer_list<std::pair<std::string_view, std::string_view>>;

/// Puts arguments into a sentence: fill("is {value}", {{"value", "98"}}) is "is 98". A name in
/// braces without an argument stays as it is, which the tests of the rule table look for.
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

/// The UTF-8 text with U+FFFD for every control character, line breaks too: what others wrote must
/// neither steer a reader's terminal nor look like a line of ours, and FHIR's string forbids most.
std::string printable(std::string_view text);

}  // namespace footbridge
