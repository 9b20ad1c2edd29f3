#pragma once
// Invented assessments by the thousand, from a seed: every item, every kind of content, values that
// validation accepts. For the checks of bundles by independent validators, not for clinical
// meaning.

#include <cstdint>
#include <string>

#include "tables/tables.hpp"

namespace footbridge::test {

/// The `number`-th assessment of a seed as one line of JSON in the input format.
std::string generateAssessment(const Tables& tables, std::uint64_t seed, std::uint64_t number);

}  // namespace footbridge::test
