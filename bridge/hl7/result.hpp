#pragma once
// One OBX as one reading.

#include <string>
#include <vector>

#include "hl7/head.hpp"

namespace footbridge::hl7 {

/// The columns of a reading, in the order of the cells of resultRow().
std::vector<csv::Column> resultColumns();

/// A result with the notes that follow it as cells of a row; issues on its form go to `issues`, and
/// nothing is returned where there is no reading to be made of it.
std::optional<csv::Row> resultRow(const Segment& result, const std::vector<const Segment*>& notes,
                                  const Context& context, Issues& issues);

}  // namespace footbridge::hl7
