#pragma once
// When an assessment was measured and last changed, by all its orders and results.

#include "hl7/head.hpp"

namespace footbridge::hl7 {

/// A field of a segment.
struct Stamped {
  const Segment* segment = nullptr;
  std::size_t field = 0;
};

/// OBR-7 of the first order that has it, else OBX-14 of the first reading of this visit that has
/// it; OBR-7 of the first order if nothing says when.
Stamped measuredIn(const Group& group, const Context& context);

/// The order whose results changed last (OBR-22); one whose OBR-22 is no time before all others;
/// nullptr if none says so.
const Segment* changedLast(const Group& group, const Context& context);

/// Says so where OBR-7 and OBX-14 differ: an error where they cannot be of one visit.
void checkTimes(const Group& group, const Context& context, Issues& issues);

}  // namespace footbridge::hl7
