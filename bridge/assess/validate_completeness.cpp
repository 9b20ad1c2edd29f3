// What is missing for what. Missing is said, with its reason where one was sent, and never read as
// normal.

#include <algorithm>
#include <array>

#include "assess/validate_visit.hpp"

namespace footbridge::validation {
namespace {

constexpr std::array kToeItems{Item::ToePressure};

/// Pressures, pulses, sounds, symptoms and findings of a leg; its history and the particulars of a
/// toe are not yet a reading.
bool ofTheLeg(Item item) {
  return item >= Item::PulseFemoral && item <= Item::StatedRutherford && item != Item::ToeDigit &&
         item != Item::ToeSensor;
}

bool legRead(const Visit& visit, Side side) {
  const auto& readings = visit.assessment().readings;
  return std::any_of(readings.begin(), readings.end(), [side](const Reading& reading) {
    return reading.side == side && ofTheLeg(reading.item) && observed(&reading);
  });
}

bool anythingRead(const Visit& visit) {
  const auto& readings = visit.assessment().readings;
  return std::any_of(readings.begin(), readings.end(), [](const Reading& reading) {
    return reading.side != Side::None && observed(&reading) &&
           (ofTheLeg(reading.item) || reading.item <= Item::ArmSystolicAfterExercise);
  });
}

/// "was not recorded", or the reason that was sent.
std::string whyMissing(const Visit& visit, std::span<const Item> items, Side side) {
  for (const Item item : items) {
    const Reading* reading = visit.find(item, side);
    if (reading == nullptr) continue;
    const auto& reason = std::get<Absence>(reading->content).reason;
    const auto& row = absentReasons()[static_cast<std::size_t>(reason)];
    return "is marked absent (" + std::string{row.display} + ")";
  }
  return "was not recorded";
}

std::string legPlace(Side side) { return "/legs/" + std::string{word(side)}; }

void checkArms(Visit& visit) {
  for (const Side side : kSides) {
    if (observed(visit.find(Item::ArmSystolic, side))) return;
  }
  visit.remarkAt("arm-pressure-missing", "/arms");
}

bool ankleRead(const Visit& visit, Side side) { return visit.observedAny(kAnkleItems, side); }

/// True if no leg has an ankle pressure though one could have had.
bool checkNoAnkle(Visit& visit) {
  if (ankleRead(visit, Side::Right) || ankleRead(visit, Side::Left)) return false;
  if (visit.legAmputated(Side::Right) && visit.legAmputated(Side::Left)) return false;
  visit.remarkAt("ankle-pressure-none", "/legs");
  return true;
}

void checkAnkle(Visit& visit, Side side) {
  if (ankleRead(visit, side)) return;
  visit.remarkAt("ankle-pressure-missing", legPlace(side),
                 {{"side", word(side)}, {"why", whyMissing(visit, kAnkleItems, side)}});
}

bool saidOtherThanNone(std::string_view word) { return !word.empty() && word != "none"; }

bool ankleHard(const Visit& visit, Side side) {
  return std::any_of(kAnkleItems.begin(), kAnkleItems.end(),
                     [&](Item item) { return incompressible(visit.find(item, side)); });
}

/// Why an ankle pressure cannot be relied on to exclude disease; "" if nothing says so.
std::string_view whyToeCounts(const Visit& visit, Side side) {
  if (saidOtherThanNone(visit.word(Item::HistoryDiabetes))) return "diabetes is recorded";
  if (affirmed(visit.find(Item::HistoryDialysis))) return "dialysis is recorded";
  const std::string_view kidney = visit.word(Item::HistoryKidneyDisease);
  if (saidOtherThanNone(kidney)) return "kidney disease is recorded";
  return ankleHard(visit, side) ? "an ankle artery is incompressible" : "";
}

void checkToe(Visit& visit, Side side) {
  if (visit.observedAny(kToeItems, side)) return;
  const std::string_view counts = whyToeCounts(visit, side);
  const std::string why = whyMissing(visit, kToeItems, side);
  visit.remarkAt(choose(counts.empty(), "toe-pressure-missing", "toe-pressure-missing-counts"),
                 legPlace(side), {{"side", word(side)}, {"why", why}, {"because", counts}});
}

struct Wanted {
  Item item{};
  std::string_view rule;
};

constexpr std::array kWoundDetails{Wanted{Item::WoundSite, "wound-site-missing"},
                                   Wanted{Item::WoundDays, "wound-days-missing"}};

void checkDetails(Visit& visit, Side side) {
  const std::string_view depth = visit.word(Item::WoundDepth, side);
  for (const Wanted& detail : kWoundDetails) {
    if (!saidOtherThanNone(depth) || observed(visit.find(detail.item, side))) continue;
    visit.remark(detail.rule, detail.item, side, {{"side", word(side)}});
  }
  if (!affirmed(visit.find(Item::RestPain, side))) return;
  if (observed(visit.find(Item::RestPainDays, side))) return;
  visit.remark("rest-pain-days-missing", Item::RestPainDays, side, {{"side", word(side)}});
}

enum class Ankles { Some, None };

void checkLeg(Visit& visit, Side side, Ankles ankles) {
  if (!legRead(visit, side)) {
    return visit.remarkAt("leg-without-reading", legPlace(side), {{"side", word(side)}});
  }
  checkDetails(visit, side);
  if (visit.legAmputated(side)) return;
  if (ankles == Ankles::Some) checkAnkle(visit, side);
  if (visit.word(Item::HistoryAmputation, side) != "forefoot") checkToe(visit, side);
}

}  // namespace

void checkCompleteness(Visit& visit) {
  // What is withdrawn need not be told again.
  if (visit.assessment().status == Status::EnteredInError) return;
  if (!anythingRead(visit)) return visit.remarkAt("nothing-recorded", "");
  checkArms(visit);
  const Ankles ankles = checkNoAnkle(visit) ? Ankles::None : Ankles::Some;
  for (const Side side : kSides) checkLeg(visit, side, ankles);
}

}  // namespace footbridge::validation
