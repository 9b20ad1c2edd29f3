#pragma once
// The description of the service for programs.

#include <string_view>

namespace footbridge::app {

/// schemas/openapi.json, which is built into the program.
std::string_view openapiText();

}  // namespace footbridge::app
