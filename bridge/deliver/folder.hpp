#pragma once
// Delivery into a folder: each bundle a file, there whole or not at all.

#include <string>
#include <string_view>

#include "config/config.hpp"
#include "core/result.hpp"

namespace footbridge::deliver {

/// What was found when a bundle was written.
enum class Filed : std::uint8_t { Written, Present };

/// Writes the bundle as STEM.json, and if the folder asks for it each of its resources by type as
/// ndjson/TYPE.STEM.ndjson. Present if the same bytes are there already. An issue of type Duplicate
/// if other bytes are (nothing is overwritten), of type NoStore if it cannot be written.
Result<Filed> fileBundle(const config::Folder& folder, const std::string& stem,
                         std::string_view bundle);

/// Issues if the folder cannot be made or written to.
Issues probeFolder(const config::Folder& folder);

}  // namespace footbridge::deliver
