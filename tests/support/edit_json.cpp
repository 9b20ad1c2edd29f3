#include "support/edit_json.hpp"

#include <algorithm>
#include <charconv>
#include <cstdio>
#include <cstdlib>

#include "json/writer.hpp"

namespace footbridge::test {
namespace {

[[noreturn]] void stop(std::string_view why, std::string_view what) {
  std::fprintf(stderr, "%s: %s\n", std::string(why).c_str(), std::string(what).c_str());
  std::abort();
}

void append(json::Writer& out, const json::Value& value) {
  if (const json::Object* members = value.asObject()) {
    out.beginObject();
    for (const auto& [name, content] : *members) append(out.name(name), content);
    out.endObject();
  } else if (const json::Array* list = value.asArray()) {
    out.beginArray();
    for (const json::Value& element : *list) append(out, element);
    out.endArray();
  } else if (const std::string* text = value.asString()) {
    out.string(*text);
  } else if (const json::Number* number = value.asNumber()) {
    out.number(number->text);
  } else if (const bool* flag = value.asBool()) {
    out.boolean(*flag);
  } else {
    out.null();
  }
}

std::string unescaped(std::string_view name) {
  std::string out;
  for (std::size_t i = 0; i < name.size(); ++i) {
    const bool escape = name[i] == '~' && i + 1 < name.size();
    out += escape ? (name[++i] == '1' ? '/' : '~') : name[i];
  }
  return out;
}

std::string lastName(std::string_view pointer) {
  return unescaped(pointer.substr(pointer.rfind('/') + 1));
}

std::size_t indexOf(std::string_view name) {
  std::size_t index = 0;
  const auto result = std::from_chars(name.data(), name.data() + name.size(), index);
  return result.ec == std::errc{} && result.ptr == name.data() + name.size() ? index : SIZE_MAX;
}

json::Value* below(json::Value& value, const std::string& name) {
  if (auto* members = std::get_if<json::Object>(&value.content())) {
    for (auto& [key, content] : *members) {
      if (key == name) return &content;
    }
  }
  auto* list = std::get_if<json::Array>(&value.content());
  const std::size_t index = indexOf(name);
  return list != nullptr && index < list->size() ? &(*list)[index] : nullptr;
}

/// The container that an edit works in, made if it is not there.
json::Value& container(json::Value& root, std::string_view pointer) {
  if (json::Value* found = at(root, pointer)) return *found;
  auto& members = std::get<json::Object>(container(root, parent(pointer)).content());
  return members.emplace_back(lastName(pointer), json::Value{json::Value::Content{json::Object{}}})
      .second;
}

void take(json::Value& from, const std::string& name) {
  if (auto* members = std::get_if<json::Object>(&from.content())) {
    std::erase_if(*members, [&](const json::Member& member) { return member.first == name; });
  } else {
    auto& list = std::get<json::Array>(from.content());
    list.erase(list.begin() + static_cast<std::ptrdiff_t>(indexOf(name)));
  }
}

void apply(json::Value& root, const Edit& edit) {
  if (edit.json.empty()) {
    if (at(root, edit.pointer) == nullptr) stop("nothing to take out", edit.pointer);
    return take(container(root, parent(edit.pointer)), lastName(edit.pointer));
  }
  if (json::Value* there = at(root, edit.pointer)) {
    *there = tree(edit.json);
    return;
  }
  json::Value& into = container(root, parent(edit.pointer));
  if (auto* list = std::get_if<json::Array>(&into.content())) {
    list->push_back(tree(edit.json));
  } else {
    std::get<json::Object>(into.content()).emplace_back(lastName(edit.pointer), tree(edit.json));
  }
}

enum class Which { All, Leaves };

void collect(const json::Value& value, const std::string& at, Which which,
             std::vector<std::string>& out) {
  const json::Object* members = value.asObject();
  const json::Array* list = value.asArray();
  const bool leaf = members == nullptr && list == nullptr;
  if (!at.empty() && (leaf || which == Which::All)) out.push_back(at);
  for (std::size_t i = 0; list != nullptr && i < list->size(); ++i) {
    collect((*list)[i], json::child(at, i), which, out);
  }
  if (members == nullptr) return;
  for (const auto& [name, content] : *members) collect(content, json::child(at, name), which, out);
}

}  // namespace

json::Value tree(std::string_view text) {
  Result<json::Value> value = json::read(text);
  if (!value) stop(value.issues().front().text, text);
  return *std::move(value);
}

std::string written(const json::Value& value) {
  json::Writer out;
  append(out, value);
  return std::string(out.text());
}

std::string edited(std::string_view text, const std::vector<Edit>& edits) {
  json::Value root = tree(text);
  for (const Edit& edit : edits) apply(root, edit);
  return written(root);
}

std::string withBytes(std::string_view text, std::string_view pointer, std::string bytes) {
  json::Value root = tree(text);
  json::Value* there = at(root, pointer);
  if (there == nullptr) stop("nothing stands at", pointer);
  // A number is written as its digits stand, whatever they are.
  *there = json::Value{json::Value::Content{json::Number{std::move(bytes)}}};
  return written(root);
}

std::string withTwice(std::string_view text, std::string_view pointer) {
  json::Value root = tree(text);
  auto& members = std::get<json::Object>(container(root, parent(pointer)).content());
  members.emplace_back(lastName(pointer), *at(root, pointer));
  return written(root);
}

json::Value* at(json::Value& root, std::string_view pointer) {
  json::Value* value = &root;
  while (value != nullptr && !pointer.empty()) {
    pointer.remove_prefix(1);
    const std::size_t end = std::min(pointer.find('/'), pointer.size());
    value = below(*value, unescaped(pointer.substr(0, end)));
    pointer.remove_prefix(end);
  }
  return value;
}

std::string_view parent(std::string_view pointer) {
  return pointer.substr(0, std::min(pointer.rfind('/'), pointer.size()));
}

std::vector<std::string> pointers(const json::Value& root) {
  std::vector<std::string> out;
  collect(root, "", Which::All, out);
  return out;
}

std::vector<std::string> leaves(const json::Value& root) {
  std::vector<std::string> out;
  collect(root, "", Which::Leaves, out);
  return out;
}

}  // namespace footbridge::test
