#pragma once
// Text on its way into a search condition.

#include <string>
#include <string_view>

namespace footbridge::package {

/// Percent-encodes everything but letters, digits and -._~ (RFC 3986), after FHIR's own escape of
/// , | $ and backslash in a search value (hl7.org/fhir/R4/search.html#escaping).
std::string searchValue(std::string_view text);

}  // namespace footbridge::package
