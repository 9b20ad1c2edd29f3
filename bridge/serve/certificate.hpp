#pragma once
// When certificates end, and which key belongs to one.

#include <chrono>
#include <filesystem>

#include "core/result.hpp"

namespace footbridge::serve {

/// The last moment at which the first certificate of a PEM file is valid. NotFound or Value if
/// there is none.
Result<std::chrono::sys_seconds> validUntil(const std::filesystem::path& file);

/// What is wrong with a certificate and the file of its private key, both PEM; nothing if they
/// belong together.
Issues pairIssues(const std::filesystem::path& certificate, const std::filesystem::path& key);

}  // namespace footbridge::serve
