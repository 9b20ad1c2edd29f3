#pragma once
// A message of results cut into what belongs to one assessment: one patient and one filler order.

#include <vector>

#include "hl7/er7.hpp"

namespace footbridge::hl7 {

/// One assessment's segments; pointers into the message.
struct Group {
  const Segment* header = nullptr;
  const Segment* patient = nullptr;  ///< PID; nullptr if the message names none
  const Segment* visit = nullptr;    ///< PV1
  const Segment* common = nullptr;   ///< the first ORC
  const Segment* order = nullptr;    ///< the first OBR; nullptr if there is none
  std::vector<const Segment*> rest;  ///< OBR, OBX and NTE in their order
  std::vector<const Segment*> all;   ///< without the header
};

/// The groups in order. Orders of one patient that follow each other and have the same filler
/// order number are one assessment.
std::vector<Group> groupsOf(const Message& message);

/// What a message cannot do without before it is looked into: an event that is known (MSH-9), a
/// version (MSH-12), not a test (MSH-11), a number (MSH-10).
void checkHeader(const Message& message, const Tables& tables, Issues& issues);

/// Refuses part of a message (DSC-1 or MSH-14 is valued) and a segment that goes on in another one
/// (ADD): the rest would be missing without a word.
void checkWhole(const Message& message, const Tables& tables, Issues& issues);

}  // namespace footbridge::hl7
