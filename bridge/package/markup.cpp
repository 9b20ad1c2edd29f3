#include "package/markup.hpp"

namespace footbridge::package {
namespace {

constexpr bool unreserved(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
         c == '.' || c == '_' || c == '~';
}

void appendPercent(std::string& out, char c) {
  static constexpr std::string_view kHex = "0123456789ABCDEF";
  const auto byte = static_cast<unsigned char>(c);
  out += '%';
  out += kHex[byte >> 4U];
  out += kHex[byte & 15U];
}

}  // namespace

std::string searchValue(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c == ',' || c == '|' || c == '$' || c == '\\') appendPercent(out, '\\');
    if (unreserved(c)) {
      out += c;
    } else {
      appendPercent(out, c);
    }
  }
  return out;
}

}  // namespace footbridge::package
