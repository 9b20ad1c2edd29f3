#include "intake/repeats.hpp"

#include <algorithm>
#include <cassert>
#include <numeric>

#include "model/rounding.hpp"

namespace footbridge::intake {

Pressure apart(const std::vector<Pressure>& repeats) {
  const auto [low, high] = std::minmax_element(repeats.begin(), repeats.end());
  return {high->halves - low->halves};
}

Settled settle(const std::vector<Pressure>& repeats, Item item, const Tables& tables) {
  assert(!repeats.empty());
  const std::int32_t* const bound = tables.rule("intake-repeats-first-dropped").number("above");
  const bool arm = item == Item::ArmSystolic && repeats.size() == 2 && bound != nullptr;
  if (arm && apart(repeats) > Pressure::mmhg(*bound)) {
    return {repeats.back(), Settling::FirstDropped};
  }
  const std::int64_t sum = std::accumulate(
      repeats.begin(), repeats.end(), std::int64_t{0},
      [](std::int64_t total, const Pressure& pressure) { return total + pressure.halves; });
  const auto count = static_cast<std::int64_t>(repeats.size());
  return {inHalves(sum, count, item), Settling::Mean};
}

}  // namespace footbridge::intake
