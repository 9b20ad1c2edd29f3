#pragma once
// A JSON text part by part, for large texts of which little is wanted: no tree is built.

#include <string_view>

#include "json/value.hpp"

namespace footbridge::json {

/// Told of each part in its order. What is not overridden is passed over.
class Events {
 public:
  Events() = default;
  virtual ~Events() = default;
  Events(const Events&) = delete;
  Events& operator=(const Events&) = delete;

  virtual void openObject() {}
  virtual void openArray() {}
  virtual void close() {}
  /// Of the member that follows.
  virtual void name(std::string_view) {}
  virtual void text(std::string_view) {}
  /// A number, true, false or null.
  virtual void other() {}
};

/// Walks one JSON text under the rules of read(), but that names may stand twice in an object.
/// False where it breaks them; what it has told of until then is worth nothing.
bool walk(std::string_view bytes, Events& events, const Limits& limits = {});

}  // namespace footbridge::json
