#pragma once
// Names of files, and what is kept of inputs that were set aside.

#include <filesystem>
#include <string>

#include "app/pipeline.hpp"

namespace footbridge::app {

/// The name of a bundle's file without its ending: the assessment, its revision, a short digest.
std::string bundleStem(const Identifier& assessment, std::int32_t revision);

/// Writes the text as it came and, beside it, why it was set aside.
Issues keepSetAside(const std::filesystem::path& folder, const intake::Text& text,
                    const Outcome& outcome);

}  // namespace footbridge::app
