// Pressures that do not fit each other: toe against ankle and arm, diastolic against systolic,
// after exercise against rest.

#include <array>

#include "assess/validate_visit.hpp"

namespace footbridge::validation {
namespace {

/// An artery that did not yield or was not heard leaves the ankle's highest pressure unknown.
bool ankleUnreliable(const Visit& visit, Side side) {
  for (const Item item : kAnkleItems) {
    const Reading* reading = visit.find(item, side);
    if (incompressible(reading) || noSignal(reading)) return true;
  }
  return false;
}

void checkToe(Visit& visit, Side side) {
  const std::optional<Pressure> toe = visit.pressure(Item::ToePressure, side);
  if (!toe) return;
  const std::optional<Pressure> ankle = visit.highestAnkle(side);
  if (ankle && *toe > *ankle && !ankleUnreliable(visit, side)) {
    visit.remark("toe-above-ankle", Item::ToePressure, side,
                 {{"reading", visit.naming(Item::ToePressure, side)},
                  {"value", toe->text()},
                  {"ankle", ankle->text()}});
  }
  const std::optional<Pressure> arm = visit.highestArm();
  if (arm && *toe > *arm) {
    visit.remark("toe-above-arm", Item::ToePressure, side,
                 {{"reading", visit.naming(Item::ToePressure, side)},
                  {"value", toe->text()},
                  {"arm", arm->text()}});
  }
}

void checkDiastolic(Visit& visit, Side side) {
  const std::optional<Pressure> systolic = visit.pressure(Item::ArmSystolic, side);
  const std::optional<Pressure> diastolic = visit.pressure(Item::ArmDiastolic, side);
  if (!systolic || !diastolic || *diastolic < *systolic) return;
  visit.remark("diastolic-not-below-systolic", Item::ArmDiastolic, side,
               {{"reading", visit.naming(Item::ArmDiastolic, side)},
                {"value", diastolic->text()},
                {"systolic", systolic->text()}});
}

struct ExercisePair {
  Item after{};
  Item rest{};
};

constexpr std::array kExercisePairs{
    ExercisePair{Item::ExerciseDorsalisPedis, Item::AnkleDorsalisPedis},
    ExercisePair{Item::ExercisePosteriorTibial, Item::AnklePosteriorTibial}};

void checkRestBeside(Visit& visit, Side side) {
  for (const ExercisePair& pair : kExercisePairs) {
    if (!observed(visit.find(pair.after, side)) || observed(visit.find(pair.rest, side))) continue;
    visit.remark(
        "exercise-without-rest", pair.after, side,
        {{"reading", visit.naming(pair.after, side)}, {"rest", visit.naming(pair.rest, side)}});
  }
}

bool armAfterExercise(const Visit& visit) {
  return visit.pressure(Item::ArmSystolicAfterExercise, Side::Right) ||
         visit.pressure(Item::ArmSystolicAfterExercise, Side::Left);
}

void checkExerciseDetails(Visit& visit) {
  if (!armAfterExercise(visit)) {
    visit.remark("exercise-arm-missing", Item::ArmSystolicAfterExercise, Side::Right);
  }
  if (!observed(visit.find(Item::ExerciseMinutesAfter))) {
    visit.remark("exercise-minutes-missing", Item::ExerciseMinutesAfter, Side::None);
  }
  if (!observed(visit.find(Item::ExerciseProtocol))) {
    visit.remark("exercise-protocol-missing", Item::ExerciseProtocol, Side::None);
  }
}

void checkExercise(Visit& visit) {
  const bool legs = visit.observedAny(kExerciseItems, Side::Right) ||
                    visit.observedAny(kExerciseItems, Side::Left);
  if (legs) return checkExerciseDetails(visit);
  constexpr std::array kDetails{Item::ExerciseProtocol, Item::ExerciseMinutesAfter};
  if (visit.observedAny(kDetails, Side::None) || armAfterExercise(visit)) {
    visit.remarkAt("exercise-without-legs", "/legs");
  }
}

}  // namespace

void checkPressures(Visit& visit) {
  for (const Side side : kSides) {
    checkToe(visit, side);
    checkDiastolic(visit, side);
    checkRestBeside(visit, side);
  }
  checkExercise(visit);
}

}  // namespace footbridge::validation
