#pragma once
// A source map proposed for a table that nobody has described yet.

#include <iosfwd>
#include <string>
#include <string_view>

#include "core/result.hpp"
#include "tables/tables.hpp"

namespace footbridge::csv {

/// TOML that loadSourceMap() takes, made from the header and the first rows. Every line that may be
/// wrong ends in "# unsure: why"; a side is never guessed, and a word whose meaning would be a
/// finding stands as a comment until someone settles it.
Result<std::string> draftMap(std::istream& in, std::string_view name, const Tables& tables);

}  // namespace footbridge::csv
