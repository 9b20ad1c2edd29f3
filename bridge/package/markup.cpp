#include "package/markup.hpp"

#include "json/writer.hpp"

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

void appendXhtml(std::string& out, std::string_view text) {
  const auto has = [text](char c) { return text.find(c) != std::string_view::npos; };
  if (!has('&') && !has('<') && !has('>')) return json::appendEscaped(out, text);
  std::size_t done = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (c != '&' && c != '<' && c != '>') continue;
    json::appendEscaped(out, text.substr(done, i - done));
    out += c == '&' ? "&amp;" : (c == '<' ? "&lt;" : "&gt;");
    done = i + 1;
  }
  json::appendEscaped(out, text.substr(done));
}

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
