#pragma once
// What the sender has to know of a bundle of ours, found by the marks with which it is written: to
// parse a quarter of a megabyte for it would take longer than to send it.

#include <string>
#include <string_view>
#include <vector>

namespace footbridge::deliver {

/// The search that finds the report of a bundle: what its conditional create or update asks for. ""
/// if it holds none.
std::string reportQuery(std::string_view bundle);

/// The conditions under which its instruments are created.
std::vector<std::string> instrumentsOf(std::string_view bundle);

/// Entries of a bundle of ours: quotes inside texts are escaped, so the mark stands nowhere else.
/// It is looked for by its one rare letter, which takes a twentieth of the time of a plain search.
std::int32_t entriesOf(std::string_view bundle);

}  // namespace footbridge::deliver
