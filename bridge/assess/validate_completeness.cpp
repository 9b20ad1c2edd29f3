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

/// Anything at arms or legs that was read, or tried in vain and marked absent with its reason.
bool anythingSent(const Visit& visit, bool read) {
  const auto& readings = visit.assessment().readings;
  return std::any_of(readings.begin(), readings.end(), [read](const Reading& reading) {
    return reading.side != Side::None && observed(&reading) == read &&
           (ofTheLeg(reading.item) || reading.item <= Item::ArmSystolicAfterExercise);
  });
}

bool legMarkedAbsent(const Visit& visit, Side side) {
  const auto& readings = visit.assessment().readings;
  return std::any_of(readings.begin(), readings.end(), [side](const Reading& reading) {
    return reading.side == side && ofTheLeg(reading.item) && !observed(&reading);
  });
}

/// The first that is marked absent with its reason; only asked where none was observed.
const Reading* markedAbsent(const Visit& visit, std::span<const Item> items, Side side) {
  for (const Item item : items) {
    if (const Reading* reading = visit.find(item, side)) return reading;
  }
  return nullptr;
}

/// "was not recorded", or the reason that was sent.
std::string whyMissing(const Reading* absent) {
  if (absent == nullptr) return "was not recorded";
  const AbsentReason reason = std::get<Absence>(absent->content).reason;
  const auto& row = absentReasons()[static_cast<std::size_t>(reason)];
  return "is marked absent (" + std::string{row.words} + ")";
}

std::string legPlace(Side side) { return "/legs/" + std::string{word(side)}; }

void checkArms(Visit& visit) {
  for (const Side side : kSides) {
    if (observed(visit.find(Item::ArmSystolic, side))) return;
  }
  const bool absent = visit.find(Item::ArmSystolic, Side::Right) != nullptr &&
                      visit.find(Item::ArmSystolic, Side::Left) != nullptr;
  visit.remarkAt(choose(absent, "arm-pressure-absent", "arm-pressure-missing"), "/arms");
}

bool ankleRead(const Visit& visit, Side side) { return visit.observedAny(kAnkleItems, side); }

/// True if no leg has an ankle pressure though one could have had.
bool checkNoAnkle(Visit& visit) {
  if (ankleRead(visit, Side::Right) || ankleRead(visit, Side::Left)) return false;
  if (visit.legAmputated(Side::Right) && visit.legAmputated(Side::Left)) return false;
  const bool absent = std::all_of(kSides.begin(), kSides.end(), [&](Side side) {
    return visit.legAmputated(side) || markedAbsent(visit, kAnkleItems, side) != nullptr;
  });
  visit.remarkAt(choose(absent, "ankle-pressure-none-absent", "ankle-pressure-none"), "/legs");
  return true;
}

void checkAnkle(Visit& visit, Side side) {
  if (ankleRead(visit, side)) return;
  const Reading* absent = markedAbsent(visit, kAnkleItems, side);
  visit.remarkAt(choose(absent != nullptr, "ankle-pressure-absent", "ankle-pressure-missing"),
                 legPlace(side), {{"side", word(side)}, {"why", whyMissing(absent)}});
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
  const Reading* absent = markedAbsent(visit, kToeItems, side);
  const RowId missing =
      choose(counts.empty(), "toe-pressure-missing", "toe-pressure-missing-counts");
  const RowId marked = choose(counts.empty(), "toe-pressure-absent", "toe-pressure-absent-counts");
  visit.remarkAt(absent == nullptr ? missing : marked, legPlace(side),
                 {{"side", word(side)}, {"why", whyMissing(absent)}, {"because", counts}});
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

/// Nothing was read at the leg: it is not there, was tried in vain, or was left out.
void remarkUnread(Visit& visit, Side side) {
  const RowId unread = choose(legMarkedAbsent(visit, side), "leg-absent", "leg-without-reading");
  visit.remarkAt(visit.legAmputated(side) ? RowId{"leg-amputated"} : unread, legPlace(side),
                 {{"side", word(side)}, {"level", visit.word(Item::HistoryAmputation, side)}});
}

enum class Ankles { Some, None };

void checkLeg(Visit& visit, Side side, Ankles ankles) {
  if (!legRead(visit, side)) return remarkUnread(visit, side);
  checkDetails(visit, side);
  if (visit.legAmputated(side)) return;
  if (ankles == Ankles::Some) checkAnkle(visit, side);
  if (visit.word(Item::HistoryAmputation, side) != "forefoot") checkToe(visit, side);
}

}  // namespace

void checkCompleteness(Visit& visit) {
  // What is withdrawn need not be told again.
  if (visit.assessment().status == Status::EnteredInError) return;
  if (!anythingSent(visit, true)) {
    const bool tried = anythingSent(visit, false);
    return visit.remarkAt(choose(tried, "nothing-measured", "nothing-recorded"), "");
  }
  checkArms(visit);
  const Ankles ankles = checkNoAnkle(visit) ? Ankles::None : Ankles::Some;
  for (const Side side : kSides) checkLeg(visit, side, ankles);
}

}  // namespace footbridge::validation
