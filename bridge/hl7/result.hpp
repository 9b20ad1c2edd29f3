#pragma once
// One OBX as one reading.

#include <string>
#include <vector>

#include "hl7/head.hpp"

namespace footbridge::hl7 {

/// The columns of a reading, in the order of the cells of resultRow().
std::vector<csv::Column> resultColumns();

/// True for a result that becomes a reading of this visit: the map does not ignore it, and it is no
/// earlier figure.
bool ofThisVisit(const Segment& result, const Context& context);

/// Says once which fields of results have content and are not read; OBX-8 has a remark of its own.
void remarkUnread(const std::vector<const Segment*>& segments, const Context& context,
                  Issues& issues);

/// A result with the notes that follow it as cells of a row; issues on its form go to `issues`, and
/// nothing is returned where there is no reading to be made of it.
std::optional<csv::Row> resultRow(const Segment& result, const std::vector<const Segment*>& notes,
                                  const Context& context, Issues& issues);

}  // namespace footbridge::hl7
