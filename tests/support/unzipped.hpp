#pragma once
// What a peer makes of a compressed body.

#include <optional>
#include <string>

namespace footbridge::test {

/// The content of one gzip member, or nothing if the bytes are none, or more than one.
std::optional<std::string> unzipped(const std::string& bytes);

}  // namespace footbridge::test
