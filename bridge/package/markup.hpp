#pragma once
// Text on its way into a narrative or a search condition.

#include <string>
#include <string_view>

namespace footbridge::package {

/// Appends text as the inside of a JSON string that holds XHTML: escaped for XHTML, then for JSON.
void appendXhtml(std::string& out, std::string_view text);

/// Percent-encodes everything but letters, digits and -._~ (RFC 3986), after FHIR's own escape of
/// , | $ and backslash in a search value (hl7.org/fhir/R4/search.html#escaping).
std::string searchValue(std::string_view text);

}  // namespace footbridge::package
