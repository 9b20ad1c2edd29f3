#pragma once
// One pressure out of repeats of one reading.

#include <cstdint>
#include <vector>

#include "model/assessment.hpp"
#include "tables/tables.hpp"

namespace footbridge::intake {

enum class Settling : std::uint8_t {
  Mean,         ///< of all
  FirstDropped  ///< the second of two at an arm, since they differ too much (AHA 2012, from memory)
};

struct Settled {
  Pressure pressure{};
  Settling how = Settling::Mean;
};

/// The mean, exact for two whole readings, else in halves by inHalves() (our choice). Two readings
/// of an arm at rest that differ by more than the figure of "intake-repeats-first-dropped": the
/// second alone. `repeats` holds one at least.
Settled settle(const std::vector<Pressure>& repeats, Item item, const Tables& tables);

/// How far the lowest and the highest of them are apart.
Pressure apart(const std::vector<Pressure>& repeats);

}  // namespace footbridge::intake
