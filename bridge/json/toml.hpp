#pragma once
// TOML 1.0 to the same tree as JSON, so that everything that walks a tree reads either.

#include <string_view>

#include "json/value.hpp"

namespace footbridge::json {

/// Reads one TOML text. Tables become objects in the order of the text, arrays lists; a date or a
/// time becomes its text. Span::begin of each value is the line it stands on, Span::end the column,
/// both from 1. A syntax error or a key given twice is one issue of type Structure with line and
/// column in its text and "line N" as place; the parser stops there.
Result<Value> readToml(std::string_view bytes);

}  // namespace footbridge::json
