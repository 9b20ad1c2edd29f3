// The one file that knows toml++.

#include "json/toml.hpp"

#define TOML_EXCEPTIONS 0
#include <toml++/toml.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <sstream>

namespace footbridge::json {
namespace {

Value converted(const toml::node& node);

Object members(const toml::table& table) {
  Object out;
  for (const auto& [key, node] : table) out.emplace_back(std::string(key.str()), converted(node));
  // The library keeps keys by name; a reader expects remarks in the order of the file.
  std::stable_sort(out.begin(), out.end(), [](const Member& a, const Member& b) {
    return std::pair(a.second.span.begin, a.second.span.end) <
           std::pair(b.second.span.begin, b.second.span.end);
  });
  return out;
}

Array elements(const toml::array& array) {
  Array out;
  for (const toml::node& node : array) out.push_back(converted(node));
  return out;
}

template <class Number>
std::string digits(Number number) {
  std::array<char, 64> buffer{};
  const auto end = std::to_chars(buffer.data(), buffer.data() + buffer.size(), number).ptr;
  return {buffer.data(), end};
}

Value::Content content(const toml::node& node) {
  if (const auto* table = node.as_table()) return members(*table);
  if (const auto* array = node.as_array()) return elements(*array);
  if (const auto* text = node.as_string()) return text->get();
  if (const auto* flag = node.as_boolean()) return flag->get();
  if (const auto* whole = node.as_integer()) return Number{digits(whole->get())};
  if (const auto* number = node.as_floating_point()) return Number{digits(number->get())};
  std::ostringstream moment;
  if (const auto* date = node.as_date()) moment << date->get();
  if (const auto* time = node.as_time()) moment << time->get();
  if (const auto* both = node.as_date_time()) moment << both->get();
  return moment.str();
}

Value converted(const toml::node& node) {
  Value out(content(node));
  out.span = {node.source().begin.line, node.source().begin.column};
  return out;
}

}  // namespace

Result<Value> readToml(std::string_view bytes) {
  const toml::parse_result parsed = toml::parse(bytes);
  if (parsed) return converted(parsed.table());
  const toml::source_position at = parsed.error().source().begin;
  std::string what(parsed.error().description());
  return Issue{Severity::Error,
               IssueType::Structure,
               "toml-syntax",
               "line " + std::to_string(at.line),
               "Line " + std::to_string(at.line) + ", column " + std::to_string(at.column) +
                   ": this is not well-formed TOML (" + what + ").",
               "Mend the line; keys with blanks or signs in them stand in quotation marks."};
}

}  // namespace footbridge::json
