// Entry errors that only several readings together give away: exchanged boxes, exchanged digits,
// exchanged sides, values copied forward. They can be real, so each is said as a possibility.

#include <algorithm>
#include <array>
#include <cstdlib>

#include "assess/validate_visit.hpp"

namespace footbridge::validation {
namespace {

constexpr std::array kCuffItems{Item::ArmSystolic,           Item::ArmSystolicAfterExercise,
                                Item::AnkleDorsalisPedis,    Item::AnklePosteriorTibial,
                                Item::AnklePeroneal,         Item::AnkleAnteriorTibial,
                                Item::ToePressure,           Item::SegmentHighThigh,
                                Item::SegmentLowThigh,       Item::SegmentCalf,
                                Item::ExerciseDorsalisPedis, Item::ExercisePosteriorTibial};

constexpr std::span<const Item> kLegCuffItems = std::span{kCuffItems}.subspan(2);

constexpr Side other(Side side) { return side == Side::Right ? Side::Left : Side::Right; }

/// True if the other arteries of the leg were read and all lie `far` or more from this one.
bool standsAlone(const Visit& visit, Item item, Side side, Pressure far) {
  const Pressure own = *visit.pressure(item, side);
  bool any = false;
  for (const Item neighbour : kAnkleItems) {
    const std::optional<Pressure> value = visit.pressure(neighbour, side);
    if (neighbour == item || !value) continue;
    if (std::abs(value->halves - own.halves) < far.halves) return false;
    any = true;
  }
  return any;
}

void checkArmInAnkle(Visit& visit, Side side) {
  const std::optional<Pressure> arm = visit.pressure(Item::ArmSystolic, side);
  if (!arm) return;
  const auto far = Pressure::mmhg(visit.figure("entry-arm-in-ankle", "far"));
  for (const Item item : kAnkleItems) {
    if (visit.pressure(item, side) != arm || !standsAlone(visit, item, side, far)) continue;
    visit.remark("entry-arm-in-ankle", item, side,
                 {{"reading", visit.naming(item, side)},
                  {"value", arm->text()},
                  {"far", std::to_string(far.floor())}});
  }
}

void checkAnkleFarAboveArm(Visit& visit, Side side) {
  const std::optional<Pressure> arm = visit.highestArm();
  const std::optional<Pressure> ankle = visit.highestAnkle(side);
  if (!arm || !ankle || *ankle <= *arm) return;
  const std::int32_t gap = visit.figure("entry-ankle-far-above-arm", "gap");
  for (const Item item : kAnkleItems) {
    const std::optional<Pressure> value = visit.pressure(item, side);
    if (!value || value->halves - arm->halves <= Pressure::mmhg(gap).halves) continue;
    visit.remark("entry-ankle-far-above-arm", item, side,
                 {{"reading", visit.naming(item, side)},
                  {"value", value->text()},
                  {"arm", arm->text()},
                  {"gap", std::to_string(gap)}});
  }
}

/// 310 for 130: the first two of three digits exchanged. Nothing if that changes nothing or would
/// begin with a zero. Exchanges further back move a value too little to tell them from disease.
std::optional<Pressure> leadingDigitsExchanged(Pressure value) {
  const std::int32_t whole = value.floor();
  const std::int32_t first = whole / 100;
  const std::int32_t second = whole / 10 % 10;
  if (first < 1 || first > 9 || second == 0 || first == second) return std::nullopt;
  return Pressure{value.halves + Pressure::mmhg((second - first) * 90).halves};
}

struct Box {
  Item item{};
  Side side = Side::None;
};

bool remarkOnExchange(Visit& visit, Box suspect, Box neighbour) {
  // A figure that is refused (310) is just what this looks for.
  const std::optional<Pressure> value = plainPressure(visit.find(suspect.item, suspect.side));
  const std::optional<Pressure> beside = visit.pressure(neighbour.item, neighbour.side);
  if (!value || !beside || *value < *beside) return false;
  const std::optional<Pressure> turned = leadingDigitsExchanged(*value);
  if (!turned) return false;
  const std::int32_t near = visit.figure("entry-digits-exchanged", "near");
  if (std::abs(turned->halves - beside->halves) > Pressure::mmhg(near).halves) return false;
  visit.remark("entry-digits-exchanged", suspect.item, suspect.side,
               {{"reading", visit.naming(suspect.item, suspect.side)},
                {"value", value->text()},
                {"turned", turned->text()},
                {"other", visit.naming(neighbour.item, neighbour.side)},
                {"beside", beside->text()}});
  return true;
}

/// The higher of the two is the suspect: 310 beside 130 and 210 beside 120 are the common slips.
bool checkPair(Visit& visit, Box one, Box two) {
  return remarkOnExchange(visit, one, two) || remarkOnExchange(visit, two, one);
}

void checkDigits(Visit& visit) {
  constexpr std::array kMirrored{Item::ArmSystolic, Item::AnkleDorsalisPedis,
                                 Item::AnklePosteriorTibial, Item::ToePressure};
  for (const Item item : kMirrored) checkPair(visit, {item, Side::Right}, {item, Side::Left});
  for (const Side side : kSides) {
    checkPair(visit, {Item::AnkleDorsalisPedis, side}, {Item::AnklePosteriorTibial, side});
  }
}

bool notApplicable(const Reading* reading) {
  if (reading == nullptr) return false;
  const auto* absence = std::get_if<Absence>(&reading->content);
  return absence != nullptr && absence->reason == AbsentReason::NotApplicable;
}

void checkSidesByAmputation(Visit& visit, Side side) {
  constexpr std::array kBelowCalf{Item::AnkleDorsalisPedis, Item::AnklePosteriorTibial,
                                  Item::AnklePeroneal, Item::AnkleAnteriorTibial,
                                  Item::ToePressure};
  const Side whole = other(side);
  if (!visit.legAmputated(side) || visit.legAmputated(whole)) return;
  if (!visit.observedAny(kBelowCalf, side) || visit.observedAny(kBelowCalf, whole)) return;
  const bool said = std::any_of(kBelowCalf.begin(), kBelowCalf.end(),
                                [&](Item item) { return notApplicable(visit.find(item, whole)); });
  if (!said) return;
  visit.remark("entry-sides-exchanged-amputation", Item::HistoryAmputation, side,
               {{"side", word(side)}, {"other", word(whole)}});
}

bool troubled(const Visit& visit, Side side) {
  return visit.tissueLoss(side) || affirmed(visit.find(Item::RestPain, side));
}

/// Said to have no wound, and both pulses of the foot felt to be normal: not merely unsaid.
bool saidToBeWell(const Visit& visit, Side side) {
  return !troubled(visit, side) && visit.word(Item::WoundDepth, side) == "none" &&
         visit.word(Item::PulseDorsalisPedis, side) == "normal" &&
         visit.word(Item::PulsePosteriorTibial, side) == "normal";
}

void checkSidesByWound(Visit& visit, Side side) {
  const Side well = other(side);
  if (!troubled(visit, side) || !saidToBeWell(visit, well)) return;
  const std::optional<Pressure> here = visit.highestAnkle(side);
  const std::optional<Pressure> there = visit.highestAnkle(well);
  const std::int32_t gap = visit.figure("entry-sides-exchanged-wound", "gap");
  if (!here || !there || here->halves - there->halves < Pressure::mmhg(gap).halves) return;
  visit.remarkAt("entry-sides-exchanged-wound", "/legs",
                 {{"side", word(side)},
                  {"other", word(well)},
                  {"here", here->text()},
                  {"there", there->text()}});
}

/// How many plain values the items have on a side, if all equal `value`; nothing if one differs.
std::optional<std::int32_t> countEqual(const Visit& visit, std::span<const Item> items, Side side,
                                       Pressure value) {
  std::int32_t equal = 0;
  for (const Item item : items) {
    const std::optional<Pressure> reading = visit.pressure(item, side);
    if (reading && *reading != value) return std::nullopt;
    if (reading) ++equal;
  }
  return equal;
}

bool checkEveryAnkleAlike(Visit& visit) {
  const std::optional<Pressure> value = visit.highestAnkle(Side::Right);
  if (!value) return false;
  const auto right = countEqual(visit, kAnkleItems, Side::Right, *value);
  const auto left = countEqual(visit, kAnkleItems, Side::Left, *value);
  if (!right || !left) return false;
  const std::int32_t perLeg = visit.figure("entry-copied-ankle", "perLeg");
  if (*right < perLeg || *left < perLeg) return false;
  visit.remarkAt("entry-copied-ankle", "/legs",
                 {{"count", std::to_string(*right + *left)}, {"value", value->text()}});
  return true;
}

void checkLegsAlike(Visit& visit) {
  std::int32_t pairs = 0;
  for (const Item item : kLegCuffItems) {
    const std::optional<Pressure> right = visit.pressure(item, Side::Right);
    const std::optional<Pressure> left = visit.pressure(item, Side::Left);
    if (!right || !left) continue;
    if (*right != *left) return;
    ++pairs;
  }
  if (pairs == 0 || pairs < visit.figure("entry-copied-leg", "pairs")) return;
  visit.remarkAt("entry-copied-leg", "/legs", {{"count", std::to_string(pairs)}});
}

/// Kilopascals were converted, so their last digit is not the reader's.
bool asRead(const Reading& reading) {
  return std::find(kCuffItems.begin(), kCuffItems.end(), reading.item) != kCuffItems.end() &&
         plainPressure(&reading) && reading.original.empty();
}

void checkEndDigits(Visit& visit) {
  constexpr std::int32_t kFiveInHalves = 10;
  std::int32_t rounded = 0;
  for (const Reading& reading : visit.assessment().readings) {
    if (!asRead(reading)) continue;
    if (std::get<Pressure>(reading.content).halves % kFiveInHalves != 0) return;
    ++rounded;
  }
  if (rounded < visit.figure("entry-end-digits", "atLeast")) return;
  visit.remarkAt("entry-end-digits", "", {{"count", std::to_string(rounded)}});
}

}  // namespace

void checkEntries(Visit& visit) {
  for (const Side side : kSides) {
    checkArmInAnkle(visit, side);
    checkAnkleFarAboveArm(visit, side);
    checkSidesByAmputation(visit, side);
    checkSidesByWound(visit, side);
  }
  checkDigits(visit);
  if (!checkEveryAnkleAlike(visit)) checkLegsAlike(visit);
  checkEndDigits(visit);
}

}  // namespace footbridge::validation
