#include "json/value.hpp"

#include <algorithm>
#include <array>

#include "core/hashed_text.hpp"

namespace footbridge::json {

const Value* Value::member(std::string_view name) const {
  const Object* members = asObject();
  if (members == nullptr) return nullptr;
  const auto found = std::find_if(members->begin(), members->end(), [name](const Member& member) {
    return sameText(member.first, name);
  });
  return found == members->end() ? nullptr : &found->second;
}

std::string_view Value::text(std::string_view name) const {
  const Value* value = member(name);
  const std::string* content = value == nullptr ? nullptr : value->asString();
  return content == nullptr ? std::string_view{} : std::string_view{*content};
}

const Array& Value::list(std::string_view name) const {
  static const Array kNone;
  const Value* value = member(name);
  const Array* elements = value == nullptr ? nullptr : value->asArray();
  return elements == nullptr ? kNone : *elements;
}

std::string_view Value::typeName() const {
  static constexpr std::array<std::string_view, 6> kNames{"null",   "true/false", "a number",
                                                          "a text", "a list",     "an object"};
  return kNames[content_.index()];
}

std::string child(std::string_view pointer, std::string_view name) {
  std::string out(pointer);
  out += '/';
  for (const char c : name) {
    if (c == '~') {
      out += "~0";
    } else if (c == '/') {
      out += "~1";
    } else {
      out += c;
    }
  }
  return out;
}

std::string child(std::string_view pointer, std::size_t index) {
  return child(pointer, std::to_string(index));
}

}  // namespace footbridge::json
