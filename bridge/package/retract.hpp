#pragma once
// What a correction no longer says has to be withdrawn in the record as well.

#include <string>
#include <string_view>

#include "core/result.hpp"

namespace footbridge::package {

/// The bundle of a later revision, and beside its own entries a conditional update for each
/// Observation or report that `earlier` wrote and it does not: the same resource with the status
/// entered-in-error, content kept so that a reader sees what was withdrawn. Both bundles have to be
/// of this program (Structure otherwise).
Result<std::string> withRetractions(std::string_view bundle, std::string_view earlier);

}  // namespace footbridge::package
