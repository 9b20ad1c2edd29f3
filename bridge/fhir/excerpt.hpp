#pragma once
// A bundle cut down to one assessment, for what is set aside.

#include <string>
#include <string_view>

#include "fhir/gather.hpp"

namespace footbridge::fhir {

/// The bundle that was read from `bytes` with only the entries of one assessment and what they
/// refer to, each as it came: it can be mended and sent again by itself.
std::string excerpt(const json::Value& bundle, const Gathered& group, const Entries& entries,
                    std::string_view bytes);

}  // namespace footbridge::fhir
