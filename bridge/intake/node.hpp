#pragma once
// A place in the JSON of an assessment, with everything needed to say what is wrong there.

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "core/issue.hpp"
#include "core/text.hpp"
#include "core/time.hpp"
#include "json/value.hpp"
#include "tables/tables.hpp"

namespace footbridge::intake {

/// Where issues go and which rules they are made by.
struct Context {
  const Tables& tables;
  Issues& issues;
};

/// A JSON value, its pointer and its name for people.
class Node {
 public:
  Node(Context context, const json::Value& value, std::string pointer, std::string label)
      : context_(context), value_(value), pointer_(std::move(pointer)), label_(std::move(label)) {}

  const json::Value& value() const { return value_; }
  const std::string& pointer() const { return pointer_; }
  const Context& context() const { return context_; }

  /// The member, if it is there. child() demands it and says so where it is missing.
  std::optional<Node> find(std::string_view name) const;
  std::optional<Node> child(std::string_view name) const;
  Node element(const json::Value& value, std::size_t index) const;

  /// Refuses members other than those named, each with the nearest name that is known.
  void onlyMembers(std::span<const std::string> names) const;

  /// True if it is an object (a list of bearable length); says so otherwise.
  bool isObject() const;
  bool isList() const;

  /// The content, or nothing and an issue. Texts are given without white space at their ends.
  std::optional<std::string> text(std::size_t limit = 1000) const;
  std::optional<Instant> instant() const;
  std::optional<Date> date() const;
  std::optional<std::int32_t> wholeFrom(std::int32_t least) const;

  void remark(std::string_view rule, Arguments arguments = {}) const;

  /// The same with {label} put in.
  void remarkNamed(std::string_view rule, std::string_view key = {},
                   std::string_view value = {}) const;

 private:
  bool isA(bool right, std::string_view wanted) const;

  Context context_;
  const json::Value& value_;
  std::string pointer_;
  std::string label_;
};

}  // namespace footbridge::intake
