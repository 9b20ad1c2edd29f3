#pragma once
// When certificates end.

#include <chrono>
#include <filesystem>

#include "core/result.hpp"

namespace footbridge::serve {

/// The last moment at which the first certificate of a PEM file is valid. NotFound or Value if
/// there is none.
Result<std::chrono::sys_seconds> validUntil(const std::filesystem::path& file);

}  // namespace footbridge::serve
