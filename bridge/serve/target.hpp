#pragma once
// The target of a request: path and query.

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace footbridge::serve {

/// Cuts "/assessments?map=a%20b" into path and decoded query. False if it is no path of printable
/// ASCII, or if an escape is broken.
bool splitTarget(std::string_view target, std::string& path,
                 std::vector<std::pair<std::string, std::string>>& query);

}  // namespace footbridge::serve
