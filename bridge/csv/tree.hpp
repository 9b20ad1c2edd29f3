#pragma once
// Building a tree at JSON Pointers whose steps need no escapes and are no list indices.

#include <string>
#include <string_view>

#include "json/value.hpp"

namespace footbridge::csv {

/// Puts a value there, making the objects above it; what stood there is replaced.
void putAt(json::Value& root, std::string_view pointer, json::Value value);

/// Adds an element to the list there, making it; the index of the element.
std::size_t appendAt(json::Value& root, std::string_view pointer, json::Value value);

/// Adds a line to the text there, making it.
void joinAt(json::Value& root, std::string_view pointer, const std::string& line);

/// The value there, or nullptr.
const json::Value* valueAt(const json::Value& root, std::string_view pointer);

/// True for what may follow a day that has no time: nothing, or the midnight that databases add.
bool midnightOnly(std::string_view rest);

/// Goes into the note of an assessment whose time of day the map has stated.
inline constexpr std::string_view kStatedTime =
    "The time of day was not recorded; the one given is stated for all rows by the source map.";

}  // namespace footbridge::csv
