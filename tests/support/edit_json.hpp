#pragma once
// Changes to a JSON text by pointer, so that a test says only what differs from a good document.

#include <string>
#include <string_view>
#include <vector>

#include "json/value.hpp"

namespace footbridge::test {

/// One change: `json` is put at `pointer`, or what stands there taken out if `json` is "".
struct Edit {
  std::string_view pointer;
  std::string json;
};

/// The tree of a text that is known to be JSON; the test stops otherwise.
json::Value tree(std::string_view text);

/// The tree as JSON in one line, numbers as they were written.
std::string written(const json::Value& value);

/// The text with all changes made, in order; members that are not there are added at the end.
std::string edited(std::string_view text, const std::vector<Edit>& edits);

/// The text with these bytes at the pointer, whether they are JSON or not.
std::string withBytes(std::string_view text, std::string_view pointer, std::string bytes);

/// The text with the member of that pointer standing there twice.
std::string withTwice(std::string_view text, std::string_view pointer);

/// What a JSON Pointer (RFC 6901) points to, or nullptr.
json::Value* at(json::Value& root, std::string_view pointer);

/// The pointer without its last name.
std::string_view parent(std::string_view pointer);

/// The pointers of everything below the root, in the order of the text.
std::vector<std::string> pointers(const json::Value& root);

/// Those of texts, numbers, true, false and null only.
std::vector<std::string> leaves(const json::Value& root);

}  // namespace footbridge::test
