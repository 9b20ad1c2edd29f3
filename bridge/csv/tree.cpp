#include "csv/tree.hpp"

#include <algorithm>

#include "core/text.hpp"

namespace footbridge::csv {
namespace {

using json::Array;
using json::Object;
using json::Value;

/// The value there, made as null if it is not.
Value& slot(Value& root, std::string_view pointer) {
  Value* node = &root;
  while (!pointer.empty()) {
    pointer.remove_prefix(1);
    const std::string_view name = pointer.substr(0, pointer.find('/'));
    pointer.remove_prefix(name.size());
    if (node->asObject() == nullptr) *node = Value(Object{});
    auto& members = std::get<Object>(node->content());
    auto found = std::find_if(members.begin(), members.end(),
                              [name](const json::Member& member) { return member.first == name; });
    if (found == members.end()) found = members.insert(members.end(), {std::string(name), Value()});
    node = &found->second;
  }
  return *node;
}

}  // namespace

void putAt(Value& root, std::string_view pointer, Value value) {
  slot(root, pointer) = std::move(value);
}

std::size_t appendAt(Value& root, std::string_view pointer, Value value) {
  Value& list = slot(root, pointer);
  if (list.asArray() == nullptr) list = Value(Array{});
  auto& elements = std::get<Array>(list.content());
  elements.push_back(std::move(value));
  return elements.size() - 1;
}

void joinAt(Value& root, std::string_view pointer, const std::string& line) {
  Value& text = slot(root, pointer);
  const std::string* before = text.asString();
  text = Value(before == nullptr ? line : *before + "\n" + line);
}

const Value* valueAt(const Value& root, std::string_view pointer) {
  const Value* node = &root;
  while (!pointer.empty() && node != nullptr) {
    pointer.remove_prefix(1);
    const std::string_view name = pointer.substr(0, pointer.find('/'));
    pointer.remove_prefix(name.size());
    node = node->member(name);
  }
  return node;
}

bool midnightOnly(std::string_view rest) {
  rest = trimmed(rest);
  if (rest.starts_with('T')) rest.remove_prefix(1);
  return rest.empty() || rest == "00:00" || rest == "00:00:00" || rest == "0:00:00" ||
         rest == "00:00:00.000";
}

}  // namespace footbridge::csv
