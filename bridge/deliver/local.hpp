#pragma once
// Asking a service of ours on this machine.

#include <filesystem>
#include <string>

#include "core/result.hpp"

namespace footbridge::deliver {

/// Posts JSON to a path of the service that listens at a socket in the file system and gives the
/// body of its answer. Transient if there is none or it does not answer.
Result<std::string> askLocal(const std::filesystem::path& socket, const std::string& path,
                             const std::string& body);

}  // namespace footbridge::deliver
