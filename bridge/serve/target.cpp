#include "serve/target.hpp"

#include <algorithm>
#include <charconv>
#include <optional>

namespace footbridge::serve {
namespace {

std::optional<std::string> decoded(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '%') {
      out += text[i] == '+' ? ' ' : text[i];
      continue;
    }
    unsigned byte = 0;
    const std::string_view digits = text.substr(i + 1, 2);
    const auto read = std::from_chars(digits.data(), digits.data() + digits.size(), byte, 16);
    if (digits.size() != 2 || read.ptr != digits.data() + 2 || byte == 0) return std::nullopt;
    out += static_cast<char>(byte);
    i += 2;
  }
  return out;
}

}  // namespace

bool splitTarget(std::string_view target, std::string& path,
                 std::vector<std::pair<std::string, std::string>>& query) {
  const bool plain = std::all_of(target.begin(), target.end(),
                                 [](char c) { return c > ' ' && c <= '~' && c != '#'; });
  if (!plain || !target.starts_with('/')) return false;
  const std::size_t mark = target.find('?');
  path = target.substr(0, mark);
  std::string_view rest = mark == std::string_view::npos ? "" : target.substr(mark + 1);
  while (!rest.empty()) {
    const std::string_view part = rest.substr(0, rest.find('&'));
    rest.remove_prefix(std::min(part.size() + 1, rest.size()));
    const std::size_t equals = std::min(part.find('='), part.size());
    std::optional<std::string> name = decoded(part.substr(0, equals));
    std::optional<std::string> value =
        decoded(equals < part.size() ? part.substr(equals + 1) : std::string_view{});
    if (!name || !value) return false;
    query.emplace_back(*std::move(name), *std::move(value));
  }
  return true;
}

}  // namespace footbridge::serve
