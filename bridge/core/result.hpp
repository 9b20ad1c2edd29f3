#pragma once
// A value with remarks, or no value and the reasons. The one way in which a folder reports failure.

#include <cassert>
#include <optional>
#include <utility>

#include "core/issue.hpp"

namespace footbridge {

/// Holds a T and perhaps some remarks that do not block, or no T and the issues that say why.
///
///   Result<Value> value = read(bytes);
///   if (!value) return value.issues();
///   use(*value);
template <class T>
class [[nodiscard]] Result {
 public:
  Result(T value, Issues notes = {}) : value_(std::move(value)), issues_(std::move(notes)) {}
  Result(Issues why) : issues_(std::move(why)) {}
  Result(Issue why) { issues_.push_back(std::move(why)); }

  explicit operator bool() const { return value_.has_value(); }

  T& operator*() & { return assert(value_), *value_; }
  const T& operator*() const& { return assert(value_), *value_; }
  T&& operator*() && { return assert(value_), *std::move(value_); }
  T* operator->() { return assert(value_), &*value_; }
  const T* operator->() const { return assert(value_), &*value_; }

  const Issues& issues() const& { return issues_; }
  Issues issues() && { return std::move(issues_); }

 private:
  std::optional<T> value_;
  Issues issues_;
};

}  // namespace footbridge
