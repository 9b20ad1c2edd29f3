// What exercise does to the pressure of an artery and to its index.

#include <array>
#include <tuple>

#include "assess/derive_parts.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

/// How much a reading after exercise leaves open, once it was looked for.
int openness(PressureState state) {
  switch (state) {
    case PressureState::NotSent:
    case PressureState::Absent:
    case PressureState::Zero:
      return 0;
    case PressureState::Plain:
      return 1;
    case PressureState::Below:
      return 2;
    case PressureState::Hard:
    case PressureState::NoSignal:
      return 3;
  }
  return 0;
}

struct Artery {
  Chosen rest;
  Chosen after;
  const Reading* again = nullptr;  ///< after exercise
  std::string name;

  bool lookedAt() const { return rest.pressure && openness(stateOf(again)) > 0; }
};

Artery artery(const Assessment& assessment, Side side, Item rest, Item after,
              const Tables& tables) {
  return {onePressure(assessment, rest, side, tables), onePressure(assessment, after, side, tables),
          assessment.find(after, side), tables.naming(rest, side)};
}

/// The pressure at rest decides. Of two alike the one that leaves more open after exercise, since
/// it may be the worse, and of two that were read the worse.
bool leads(const Artery& first, const Artery& second) {
  const auto rank = [](const Artery& one) {
    const std::int32_t after = one.after.pressure ? -one.after.pressure->halves : 0;
    return std::tuple{one.rest.pressure, openness(stateOf(one.again)), after};
  };
  return rank(first) >= rank(second);
}

std::optional<Pressure> boundOf(const Artery& artery) {
  return artery.after.pressure ? std::nullopt : highestOf(artery.again);
}

/// Where the signal was lost nothing is derived; what the other artery did is said beside it.
void tellOther(Chosen& after, const Artery& other, const Tables& tables) {
  if (after.pressure || !other.rest.pressure || !other.after.pressure) return;
  join(after.because, sentence(tables, "derive-exercise-other-read",
                               {{"reading", other.name},
                                {"rest", other.rest.pressure->text()},
                                {"after", other.after.pressure->text()}}));
}

/// The fraction as tenths of a per cent, rounded half up, downward below zero too.
std::int32_t tenthsOf(const Ratio& ratio) {
  const std::int64_t numerator = 2000 * ratio.num + ratio.den;
  const std::int64_t denominator = 2 * ratio.den;
  const std::int64_t cut = numerator / denominator;
  const bool under = numerator < 0 && cut * denominator != numerator;
  return static_cast<std::int32_t>(under ? cut - 1 : cut);
}

}  // namespace

Exercised exercised(const Assessment& assessment, Side side, const Tables& tables) {
  const Artery dorsal =
      artery(assessment, side, Item::AnkleDorsalisPedis, Item::ExerciseDorsalisPedis, tables);
  const Artery tibial =
      artery(assessment, side, Item::AnklePosteriorTibial, Item::ExercisePosteriorTibial, tables);
  const bool dorsalLeads = leads(dorsal, tibial);
  const Artery& leading = dorsalLeads ? dorsal : tibial;
  const Artery& other = dorsalLeads ? tibial : dorsal;
  const bool instead = !leading.lookedAt() && other.lookedAt();
  const Artery& used = instead ? other : leading;
  Exercised out{used.rest, used.after, armPressure(assessment, tables),
                armPressure(assessment, tables, Item::ArmSystolicAfterExercise), boundOf(used)};
  if (!instead) {
    tellOther(out.after, other, tables);
    return out;
  }
  std::string why = leading.rest.because;
  join(why, leading.after.because);
  out.after.remarks.push_back(
      remark(tables, "derive-exercise-other-artery", {{"reading", other.name}, {"why", why}}));
  return out;
}

Index abiAfterExercise(const Exercised& pressures, Side side, const Tables& tables) {
  const auto& [rest, after, arm, armAfter, highest] = pressures;
  Index index = indexFrom(IndexKind::AbiAfterExercise, side, {&after, &armAfter});
  if (!allKnown({&after, &armAfter})) return index;
  putRatio(index, {after.pressure->halves, armAfter.pressure->halves});
  index.method = sentence(tables, "derive-method-after-exercise",
                          {{"ankle", after.method}, {"arm", armAfter.method}});
  return index;
}

Index ankleFall(const Exercised& pressures, Side side, const Tables& tables) {
  const auto& [rest, after, arm, armAfter, highest] = pressures;
  Index index = indexFrom(IndexKind::ExerciseAnkleFall, side, {&rest, &after});
  if (!allKnown({&rest, &after})) return index;
  index.difference = Pressure{rest.pressure->halves - after.pressure->halves};
  index.method = sentence(tables, "derive-method-ankle-fall",
                          {{"rest", rest.method}, {"after", after.method}});
  return index;
}

Index abiFall(const Exercised& pressures, Side side, const Tables& tables) {
  const auto& [rest, after, arm, armAfter, highest] = pressures;
  Index index = indexFrom(IndexKind::ExerciseAbiFall, side, {&rest, &arm, &after, &armAfter});
  if (!allKnown({&rest, &arm, &after, &armAfter})) return index;
  const std::int64_t atRest = std::int64_t{rest.pressure->halves} * armAfter.pressure->halves;
  const std::int64_t then = std::int64_t{after.pressure->halves} * arm.pressure->halves;
  index.ratio = Ratio{atRest - then, atRest};
  index.tenths = tenthsOf(*index.ratio);
  index.method =
      sentence(tables, "derive-method-abi-fall", {{"rest", rest.method}, {"after", after.method}});
  return index;
}

}  // namespace footbridge::assess
