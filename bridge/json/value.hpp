#pragma once
// A JSON text as a tree: numbers stay as written, members stay in order, names are unique.

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "core/result.hpp"

namespace footbridge::json {

class Value;

/// A number as its digits stood in the text.
struct Number {
  std::string text;
};

using Array = std::vector<Value>;
using Member = std::pair<std::string, Value>;
using Object = std::vector<Member>;

/// Where a value's bytes begin and end in the text it was read from.
struct Span {
  std::size_t begin = 0;
  std::size_t end = 0;
};

/// One JSON value. The as...() functions give nullptr when it is of another type.
class Value {
 public:
  using Content = std::variant<std::nullptr_t, bool, Number, std::string, Array, Object>;

  Value() = default;
  explicit Value(Content content) : content_(std::move(content)) {}

  bool isNull() const { return std::holds_alternative<std::nullptr_t>(content_); }
  const bool* asBool() const { return std::get_if<bool>(&content_); }
  const Number* asNumber() const { return std::get_if<Number>(&content_); }
  const std::string* asString() const { return std::get_if<std::string>(&content_); }
  const Array* asArray() const { return std::get_if<Array>(&content_); }
  const Object* asObject() const { return std::get_if<Object>(&content_); }

  /// The member of that name, or nullptr; also nullptr if this is no object.
  const Value* member(std::string_view name) const;

  /// The member's text; "" if it is not there or no text.
  std::string_view text(std::string_view name) const;

  /// The member's elements; none if it is not there or no list.
  const std::vector<Value>& list(std::string_view name) const;

  /// "null", "true/false", "number", "text", "list" or "object": for messages to people.
  std::string_view typeName() const;

  Content& content() { return content_; }
  Span span;

 private:
  Content content_{nullptr};
};

/// Bounds on what is read; beyond them the text is refused.
struct Limits {
  std::size_t bytes = 64U << 20U;
  std::size_t depth = 32;
  std::size_t numberLength = 64;
  std::size_t members = 256;  ///< of one object: each new name is compared with all before it
};

/// Reads one JSON text (RFC 8259), strictly: UTF-8 without byte-order mark, one value and nothing
/// after it, no duplicate names, no NUL inside, no lone surrogate. Issues are of type Structure,
/// place "" or the pointer of the object at fault, and say the byte.
Result<Value> read(std::string_view bytes, const Limits& limits = {});

/// The pointer of a member or element: child("/legs", "left") is "/legs/left", escaped as RFC 6901
/// asks.
std::string child(std::string_view pointer, std::string_view name);
std::string child(std::string_view pointer, std::size_t index);

}  // namespace footbridge::json
