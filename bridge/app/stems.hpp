#pragma once
// Names of the files that bundles are written to.

#include <cstdint>
#include <string>

#include "model/assessment.hpp"

namespace footbridge::app {

/// The name of a bundle's file without its ending: the assessment, its revision, a short digest.
std::string bundleStem(const Identifier& assessment, std::int32_t revision);

}  // namespace footbridge::app
