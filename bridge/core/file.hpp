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

/// Writes a file that only this user may read and that must not be there yet, durably.
Issues createSecretFile(const std::filesystem::path& path, std::string_view bytes);

/// A name for a file: what of `name` may stand in one, and enough of a digest of `distinct` to keep
/// different ones apart.
std::string fileStem(std::string_view name, std::string_view distinct);

}  // namespace footbridge
