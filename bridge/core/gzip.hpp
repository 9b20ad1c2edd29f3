#pragma once
// Bodies of requests, compressed for servers that take them so (RFC 1952).

#include <string>
#include <string_view>

namespace footbridge {

/// The bytes in gzip's form, with no name and no time in it: the same bytes give the same form.
/// Quick rather than small. "" if there is no memory for it.
std::string gzipped(std::string_view bytes);

}  // namespace footbridge
