#pragma once
// A site's own codings, laid over the catalogue without touching the shipped tables.

#include <string>
#include <string_view>

#include "core/issue.hpp"
#include "tables/tables.hpp"

namespace footbridge {

/// Lays the codings of an overlay file over the concepts of `tables`. `bytes` is the file:
/// {"rows": [{"concept", "mode": "add" | "replace", "codings": [{"system", "code", "display",
/// "status", "source"}]}]}. "add" puts them behind the shipped ones; "replace" keeps those as
/// evidence that is never sent. Each coding names its evidence and bears `name` as its origin. The
/// digest of the tables then covers the file, too. Refused, all problems at once and with nothing
/// laid over: unknown concepts, codings without evidence, and codes from which validators imply a
/// vital-signs profile.
Issues layOver(Tables& tables, std::string_view bytes, const std::string& name);

}  // namespace footbridge
