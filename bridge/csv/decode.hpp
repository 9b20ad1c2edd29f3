#pragma once
// The bytes of a cell as UTF-8.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace footbridge::csv {

enum class Encoding : std::uint8_t { Utf8, Windows1252 };

/// The text, or nothing if the bytes are not of that encoding. The five bytes that Windows-1252
/// leaves free (81, 8D, 8F, 90, 9D) are refused (unicode.org Public/MAPPINGS/VENDORS/MICSFT).
std::optional<std::string> decoded(std::string_view bytes, Encoding encoding);

}  // namespace footbridge::csv
