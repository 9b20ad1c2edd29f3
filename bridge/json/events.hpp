#pragma once
// A JSON text part by part, for large texts of which little is wanted: no tree is built.

#include <cstdint>
#include <functional>
#include <string_view>

#include "json/value.hpp"

namespace footbridge::json {

enum class Part : std::uint8_t {
  BeginObject,
  BeginArray,
  End,   ///< of the object or list that began last
  Name,  ///< of the member that follows
  Text,
  Other  ///< a number, true, false or null
};

/// Told of each part in its order, with what a name or text holds.
using Hear = std::function<void(Part, std::string_view)>;

/// Walks one JSON text under the rules of read(), but that names may stand twice in an object.
/// False where it breaks them; what it has told of until then is worth nothing.
bool walk(std::string_view bytes, const Hear& hear, const Limits& limits = {});

}  // namespace footbridge::json
