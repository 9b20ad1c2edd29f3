#pragma once
// What a correction no longer says has to be withdrawn in the record as well.

#include <string>
#include <string_view>
#include <vector>

#include "core/result.hpp"

namespace footbridge::package {

/// The bundle of a later revision, and beside its own entries a conditional update for each
/// Observation or report that `earlier` wrote and it does not: the same resource with the status
/// entered-in-error, content kept so that a reader sees what was withdrawn. Both bundles have to be
/// of this program (Structure otherwise).
Result<std::string> withRetractions(std::string_view bundle, std::string_view earlier);

/// What withdraws resources of an earlier bundle.
struct Retractions {
  std::string entries;               ///< each with a comma before it
  std::vector<std::string> targets;  ///< fullUrls of what is withdrawn
};

/// The same for all that `earlier` wrote but for the fullUrls that are kept.
Result<Retractions> retractions(std::string_view earlier, std::vector<std::string> kept);

}  // namespace footbridge::package
