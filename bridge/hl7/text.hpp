#pragma once
// Text of a field: escapes undone once, bytes as UTF-8.

#include <optional>
#include <string>
#include <string_view>

#include "hl7/er7.hpp"

namespace footbridge::hl7 {

/// The bytes as UTF-8; nothing if they are not of that set. Controls of the upper half are refused
/// in 8859/1, since they are what other sets look like.
std::optional<std::string> decoded(std::string_view bytes, Charset charset);

/// As MSH-18 calls it.
std::string_view nameOf(Charset charset);

/// A text with what could not be understood of it.
struct Unescaped {
  std::string text;
  std::string unknown;  ///< the first escape that was kept as it stands, "" if there was none
};

/// Undoes \F\ \S\ \T\ \R\ \E\, \Xhh..\, \.br\ and \.sp\ (line ends), and drops
/// \H\ \N\ (highlighting). Any other escape, and one that is not closed, is kept as it stands.
Unescaped unescaped(std::string_view raw, const Marks& marks, Charset charset);

/// The text of `raw` with the marks of a message escaped.
std::string escaped(std::string_view text, const Marks& marks);

}  // namespace footbridge::hl7
