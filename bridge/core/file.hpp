#pragma once
// Whole files in, and out so that a reader never sees half of one.

#include <filesystem>
#include <string>
#include <string_view>

#include "core/result.hpp"

namespace footbridge {

/// The bytes of a file, or the reason why not (IssueType NotFound).
Result<std::string> readFile(const std::filesystem::path& path);

/// Writes beside the target, syncs, renames and syncs the folder, so that after a crash the file is
/// there whole or not at all. An empty list means it is done (IssueType NoStore otherwise).
Issues writeFileAtomically(const std::filesystem::path& path, std::string_view bytes);

}  // namespace footbridge
