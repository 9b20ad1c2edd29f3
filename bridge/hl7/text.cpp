#include "hl7/text.hpp"

#include <algorithm>

#include "core/text.hpp"

namespace footbridge::hl7 {
namespace {

int digitOf(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return -1;
}

/// "C3A9" as its bytes; nothing if it is no hexadecimal data.
std::optional<std::string> bytesOf(std::string_view hex) {
  std::string out;
  if (hex.empty() || hex.size() % 2 != 0) return std::nullopt;
  for (std::size_t i = 0; i < hex.size(); i += 2) {
    const int high = digitOf(hex[i]);
    const int low = digitOf(hex[i + 1]);
    if (high < 0 || low < 0 || (high == 0 && low == 0)) return std::nullopt;
    out += static_cast<char>(high * 16 + low);
  }
  return out;
}

/// What stands for the name between two escape marks, as bytes of the message's set.
std::optional<std::string> meaning(std::string_view name, const Marks& marks) {
  if (name == "F") return std::string(1, marks.field);
  if (name == "S") return std::string(1, marks.component);
  if (name == "R") return std::string(1, marks.repetition);
  if (name == "E") return std::string(1, marks.escape);
  if (name == "T") return std::string(1, marks.sub);
  if (name == "H" || name == "N") return std::string();
  if (name == ".br" || name == ".sp") return std::string("\n");
  if (name.starts_with('X')) return bytesOf(name.substr(1));
  return std::nullopt;
}

}  // namespace

std::optional<std::string> decoded(std::string_view bytes, Charset charset) {
  if (charset == Charset::Utf8) {
    return validUtf8(bytes) ? std::optional{std::string(bytes)} : std::nullopt;
  }
  std::string out;
  for (const char c : bytes) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x80) {
      out += c;
    } else if (charset == Charset::Ascii || byte < 0xA0) {
      return std::nullopt;
    } else {
      out += static_cast<char>(0xC0 | (byte >> 6U));
      out += static_cast<char>(0x80 | (byte & 0x3FU));
    }
  }
  return out;
}

std::string_view nameOf(Charset charset) {
  if (charset == Charset::Utf8) return "UNICODE UTF-8";
  return charset == Charset::Latin1 ? "8859/1" : "ASCII";
}

Unescaped unescaped(std::string_view raw, const Marks& marks, Charset charset) {
  Unescaped out;
  std::string bytes;
  const auto keep = [&](std::string_view escape) {
    bytes += escape;
    if (out.unknown.empty()) out.unknown = escape;
  };
  while (!raw.empty()) {
    const std::size_t begin = std::min(raw.find(marks.escape), raw.size());
    bytes += raw.substr(0, begin);
    raw.remove_prefix(begin);
    if (raw.empty()) break;
    const std::size_t end = raw.find(marks.escape, 1);
    if (end == std::string_view::npos) {
      keep(raw);
      break;
    }
    const std::optional<std::string> said = meaning(raw.substr(1, end - 1), marks);
    if (said && decoded(*said, charset).has_value()) {
      bytes += *said;
    } else {
      keep(raw.substr(0, end + 1));
    }
    raw.remove_prefix(end + 1);
  }
  out.text = decoded(bytes, charset).value_or("");
  return out;
}

std::string escaped(std::string_view text, const Marks& marks) {
  std::string out;
  for (const char c : text) {
    const auto put = [&](char name) { ((out += marks.escape) += name) += marks.escape; };
    if (c == marks.field) {
      put('F');
    } else if (c == marks.component) {
      put('S');
    } else if (c == marks.sub) {
      put('T');
    } else if (c == marks.repetition) {
      put('R');
    } else if (c == marks.escape) {
      put('E');
    } else {
      out += c == '\r' || c == '\n' ? ' ' : c;
    }
  }
  return out;
}

}  // namespace footbridge::hl7
