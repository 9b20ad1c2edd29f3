#include "csv/decode.hpp"

#include <array>

#include "core/text.hpp"

namespace footbridge::csv {
namespace {

/// The characters of 80 to 9F; 0 where the encoding has none.
constexpr std::array<char16_t, 32> kUpper{
    0x20AC, 0,      0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160,
    0x2039, 0x0152, 0,      0x017D, 0,      0,      0x2018, 0x2019, 0x201C, 0x201D, 0x2022,
    0x2013, 0x2014, 0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0,      0x017E, 0x0178};

void appendUtf8(std::string& out, char16_t c) {
  const auto byte = [&out](unsigned value) { out += static_cast<char>(value); };
  if (c < 0x80) {
    byte(c);
  } else if (c < 0x800) {
    byte(0xC0U | (c >> 6U));
    byte(0x80U | (c & 0x3FU));
  } else {
    byte(0xE0U | (c >> 12U));
    byte(0x80U | ((c >> 6U) & 0x3FU));
    byte(0x80U | (c & 0x3FU));
  }
}

}  // namespace

std::optional<std::string> decoded(std::string_view bytes, Encoding encoding) {
  if (encoding == Encoding::Utf8) {
    return validUtf8(bytes) ? std::optional{std::string(bytes)} : std::nullopt;
  }
  std::string out;
  for (const char c : bytes) {
    const auto byte = static_cast<unsigned char>(c);
    const bool upper = byte >= 0x80 && byte < 0xA0;
    const char16_t character = upper ? kUpper[byte - 0x80U] : static_cast<char16_t>(byte);
    if (upper && character == 0) return std::nullopt;
    appendUtf8(out, character);
  }
  return out;
}

}  // namespace footbridge::csv
