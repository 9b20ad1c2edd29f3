#pragma once
// A place in the JSON of an assessment, with everything needed to say what is wrong there.

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

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

/// A JSON value, with the way to it: where it is and what people call it is put together only when
/// there is something to say. A node has to outlive those found below it.
class Node {
 public:
  /// The whole text.
  Node(Context context, const json::Value& value) : context_(context), value_(value) {}

  const json::Value& value() const { return value_; }
  const Context& context() const { return context_; }

  /// Its JSON Pointer, "" for the whole.
  std::string pointer() const;

  /// The names on the way to it: "patient family".
  std::string label() const;

  /// The member, if it is there. child() demands it and says so where it is missing. The name is
  /// not copied.
  std::optional<Node> find(std::string_view name) const;
  std::optional<Node> child(std::string_view name) const;
  Node element(const json::Value& value, std::size_t index) const;

  /// Refuses members other than those named, each with the nearest name that is known.
  void onlyMembers(std::span<const std::string> names) const { sortOut(names, {}); }

  /// The same, and gives the members in the order of the names, nullptr for one that is not there.
  std::vector<const json::Value*> membersBy(std::span<const std::string> names) const;

  /// The same where there is room for as many as there are names, all of them nullptr, or for none.
  void sortOut(std::span<const std::string> names, std::span<const json::Value*> found) const;

  /// One of those.
  Node named(const json::Value& value, std::string_view name) const;

  /// True if it is an object (a list of bearable length); says so otherwise.
  bool isObject() const;
  bool isList() const;

  /// The content, or nothing and an issue. Texts are given without white space at their ends.
  std::optional<std::string> text(std::size_t limit = 1000) const;
  std::optional<Instant> instant() const;
  std::optional<Date> date() const;
  std::optional<std::int32_t> wholeFrom(std::int32_t least, std::int32_t most = 1'000'000) const;

  void remark(std::string_view rule, Arguments arguments = {}) const;

  /// The same with {label} put in.
  void remarkNamed(std::string_view rule, std::string_view key = {},
                   std::string_view value = {}) const;

 private:
  Node(const Node& parent, const json::Value& value, std::string_view name, std::size_t index)
      : context_(parent.context_), value_(value), parent_(&parent), name_(name), index_(index) {}

  bool isA(bool right, std::string_view wanted) const;

  Context context_;
  const json::Value& value_;
  const Node* parent_ = nullptr;
  std::string_view name_;  ///< of a member; "" for an element
  std::size_t index_ = 0;  ///< of an element
};

}  // namespace footbridge::intake
