#pragma once
// The head of an assessment: whose, by whom, when, with what.

#include <array>
#include <string>

#include "intake/node.hpp"
#include "model/assessment.hpp"

namespace footbridge::intake {

/// The members of the head, in the order of docs/input.md.
const std::array<std::string, 14>& headMembers();

/// Fills the head; issues go to the node's context.
void readHead(const Node& root, Assessment& out);

}  // namespace footbridge::intake
