#pragma once
// What an Observation or a component of one says, as the cells of a reading.

#include <optional>
#include <string>

#include "core/issue.hpp"
#include "fhir/codes.hpp"

namespace footbridge::fhir {

/// Value, unit and place of a reading.
struct ValueCell {
  std::string text;
  std::string unit;
  std::string place;
};

/// The value[x] or the reason why there is none, for a reading of this kind; nothing with an issue
/// where it cannot be read. `place` is that of the Observation. Words on the reason go to `note`.
std::optional<ValueCell> valueOf(const json::Value& observation, const csv::Target& target,
                                 const Codes& codes, const std::string& place, std::string& note,
                                 Issues& issues);

/// Adds a line to a note that does not hold it yet.
void say(std::string& note, std::string_view words);

}  // namespace footbridge::fhir
