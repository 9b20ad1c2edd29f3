// Readings where a part of the limb is said to be gone: either the amputation or the reading is on
// the wrong side or in the wrong box.

#include <algorithm>
#include <array>

#include "assess/validate_visit.hpp"

namespace footbridge::validation {
namespace {

/// What is gone with the foot. TcPO2 is not here: it is measured on stumps.
constexpr std::array kGoneBelowKnee{Item::PulseDorsalisPedis,    Item::PulsePosteriorTibial,
                                    Item::DopplerDorsalisPedis,  Item::AnkleDorsalisPedis,
                                    Item::AnklePosteriorTibial,  Item::AnklePeroneal,
                                    Item::AnkleAnteriorTibial,   Item::ToePressure,
                                    Item::ExerciseDorsalisPedis, Item::ExercisePosteriorTibial};

/// What is gone besides, with the knee. The tibial arteries can be heard in a stump below it.
constexpr std::array kGoneAboveKnee{Item::PulsePopliteal,         Item::DopplerPopliteal,
                                    Item::DopplerPosteriorTibial, Item::DopplerPeroneal,
                                    Item::DopplerAnteriorTibial,  Item::SegmentCalf};

void remarkOnGone(Visit& visit, Side side, std::span<const Item> gone, std::string_view level) {
  for (const Item item : gone) {
    if (!observed(visit.find(item, side))) continue;
    visit.remark("amputated-leg-has-reading", item, side,
                 {{"reading", visit.naming(item, side)}, {"level", level}});
  }
}

void checkLeg(Visit& visit, Side side, std::string_view level) {
  if (level == "below-knee" || level == "above-knee") {
    remarkOnGone(visit, side, kGoneBelowKnee, level);
  }
  if (level == "above-knee") remarkOnGone(visit, side, kGoneAboveKnee, level);
}

/// What is seen or felt at a foot. A stump can hurt, be infected or break down too, so it is asked.
void checkFindings(Visit& visit, Side side, std::string_view level) {
  constexpr std::array kFootFindings{Item::RestPain, Item::Gangrene, Item::Infection,
                                     Item::CapillaryRefill};
  if (level != "below-knee" && level != "above-knee") return;
  for (const Item item : kFootFindings) {
    const Reading* reading = visit.find(item, side);
    const std::string_view word = chosenWord(reading);
    if (!observed(reading) || word == "absent" || word == "none") continue;
    visit.remark("amputated-part-has-finding", item, side,
                 {{"reading", visit.naming(item, side)},
                  {"word", word.empty() ? "read" : word},
                  {"level", level}});
  }
}

void checkToe(Visit& visit, Side side, std::string_view level) {
  if (!observed(visit.find(Item::ToePressure, side))) return;
  const std::string_view digit = visit.word(Item::ToeDigit, side);
  const bool gone = level == "forefoot" || (level == "great-toe" && digit == "great");
  if (gone) {
    visit.remark("amputated-toe-has-pressure", Item::ToePressure, side,
                 {{"reading", visit.naming(Item::ToePressure, side)}, {"level", level}});
  } else if (level == "great-toe" && digit.empty()) {
    visit.remark("amputated-toe-unclear", Item::ToeDigit, side,
                 {{"reading", visit.naming(Item::ToePressure, side)}});
  }
}

bool siteGone(std::string_view level, std::string_view site) {
  constexpr std::array<std::string_view, 5> kFoot{"toe", "forefoot", "midfoot", "heel", "ankle"};
  if (level == "below-knee") return std::find(kFoot.begin(), kFoot.end(), site) != kFoot.end();
  if (level == "above-knee") return !site.empty();
  return level == "forefoot" && site == "toe";
}

void checkWound(Visit& visit, Side side, std::string_view level) {
  const std::string_view site = visit.word(Item::WoundSite, side);
  if (!siteGone(level, site)) return;
  visit.remark(
      "amputated-part-has-wound", Item::WoundSite, side,
      {{"reading", visit.naming(Item::WoundSite, side)}, {"site", site}, {"level", level}});
}

}  // namespace

void checkAmputations(Visit& visit) {
  for (const Side side : kSides) {
    const std::string_view level = visit.word(Item::HistoryAmputation, side);
    if (level.empty() || level == "none") continue;
    checkLeg(visit, side, level);
    checkFindings(visit, side, level);
    checkToe(visit, side, level);
    checkWound(visit, side, level);
  }
}

}  // namespace footbridge::validation
