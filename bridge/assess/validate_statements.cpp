// What was said of symptoms, wounds and infection, against itself: "none" beside a detail of it.

#include <algorithm>
#include <array>

#include "assess/validate_visit.hpp"

namespace footbridge::validation {
namespace {

/// A detail that means nothing unless the thing itself is said to be there.
struct Detail {
  Item statement{};
  Item detail{};
};

constexpr std::array kDetails{Detail{Item::RestPain, Item::RestPainDays},
                              Detail{Item::Claudication, Item::ClaudicationDistance},
                              Detail{Item::WoundDepth, Item::WoundSite},
                              Detail{Item::WoundDepth, Item::WoundArea},
                              Detail{Item::WoundDepth, Item::WoundDays}};

/// Zero days of a pain that is absent is clumsy, not contradictory.
bool saysSomething(const Reading* reading) {
  if (!observed(reading)) return false;
  const auto* number = std::get_if<Decimal>(&reading->content);
  return number == nullptr || number->digits != 0;
}

bool deniedOrNone(const Reading* reading) {
  return denied(reading) || chosenWord(reading) == "none";
}

void checkDetail(Visit& visit, Side side, const Detail& pair) {
  if (!saysSomething(visit.find(pair.detail, side))) return;
  // Site, size and age of gangrene are written in the wound's boxes.
  if (pair.statement == Item::WoundDepth && visit.tissueLoss(side)) return;
  const Reading* statement = visit.find(pair.statement, side);
  const bool contradicted = deniedOrNone(statement);
  if (!contradicted && statement != nullptr) return;  // there, or absent with its reason
  visit.remark(choose(contradicted, "detail-of-what-is-absent", "detail-without-statement"),
               pair.detail, side,
               {{"reading", visit.naming(pair.detail, side)},
                {"statement", visit.naming(pair.statement, side)},
                {"word", chosenWord(statement)}});
}

void checkWound(Visit& visit, Side side) {
  const std::string_view depth = visit.word(Item::WoundDepth, side);
  const std::string_view gangrene = visit.word(Item::Gangrene, side);
  if (depth == "none" && !gangrene.empty() && gangrene != "none") {
    visit.remark("wound-none-with-gangrene", Item::WoundDepth, side,
                 {{"reading", visit.naming(Item::WoundDepth, side)}, {"gangrene", gangrene}});
  }
  const std::string_view site = visit.word(Item::WoundSite, side);
  if (depth == "distal-phalanx" && !site.empty() && site != "toe") {
    visit.remark("wound-depth-not-at-site", Item::WoundSite, side,
                 {{"reading", visit.naming(Item::WoundSite, side)}, {"site", site}});
  }
}

constexpr std::array kSigns{Item::InfectionSwelling, Item::InfectionTenderness,
                            Item::InfectionWarmth, Item::InfectionPus};

/// A sign that speaks for infection: a word that affirms, redness that has a width, a deep focus.
bool speaksForInfection(const Visit& visit, Item item, Side side) {
  const Reading* reading = visit.find(item, side);
  if (item == Item::InfectionErythema) {
    return saysSomething(reading) && !denied(reading);
  }
  const std::string_view word = chosenWord(reading);
  if (item == Item::InfectionDeep) return !word.empty() && word != "none";
  return affirmed(reading);
}

void checkInfectionAbsent(Visit& visit, Side side) {
  if (!denied(visit.find(Item::Infection, side))) return;
  for (auto item = Item::InfectionSwelling; item <= Item::InfectionDeep;
       item = static_cast<Item>(static_cast<int>(item) + 1)) {
    if (!speaksForInfection(visit, item, side)) continue;
    visit.remark("infection-absent-with-sign", item, side,
                 {{"reading", visit.naming(item, side)},
                  {"statement", visit.naming(Item::Infection, side)}});
  }
}

bool saidToBeNil(const Reading* reading) {
  const auto number = plainNumber(reading);
  return deniedOrNone(reading) || (number && number->digits == 0);
}

/// Every local sign looked for and denied, and no deep focus named.
void checkInfectionPresent(Visit& visit, Side side) {
  if (!affirmed(visit.find(Item::Infection, side))) return;
  const bool everySignDenied = std::all_of(
      kSigns.begin(), kSigns.end(), [&](Item item) { return denied(visit.find(item, side)); });
  if (!everySignDenied || !saidToBeNil(visit.find(Item::InfectionErythema, side))) return;
  if (speaksForInfection(visit, Item::InfectionDeep, side)) return;
  visit.remark("infection-without-sign", Item::Infection, side,
               {{"reading", visit.naming(Item::Infection, side)}});
}

void checkKidney(Visit& visit) {
  if (!affirmed(visit.find(Item::HistoryDialysis))) return;
  if (visit.word(Item::HistoryKidneyDisease) != "none") return;
  visit.remark("dialysis-without-kidney-disease", Item::HistoryDialysis, Side::None,
               {{"reading", visit.naming(Item::HistoryDialysis, Side::None)},
                {"other", visit.naming(Item::HistoryKidneyDisease, Side::None)}});
}

}  // namespace

void checkStatements(Visit& visit) {
  for (const Side side : kSides) {
    for (const Detail& pair : kDetails) checkDetail(visit, side, pair);
    checkWound(visit, side);
    checkInfectionAbsent(visit, side);
    checkInfectionPresent(visit, side);
  }
  checkKidney(visit);
}

}  // namespace footbridge::validation
