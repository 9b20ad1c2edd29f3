#pragma once
// The part of the configuration that is about the service; not for other folders.

#include "config/config.hpp"
#include "config/section.hpp"

namespace footbridge::config {

/// Reads [serve]. `so` holds the destinations already.
Serve takeServe(Section& section, const std::filesystem::path& folder, const Config& so);

}  // namespace footbridge::config
