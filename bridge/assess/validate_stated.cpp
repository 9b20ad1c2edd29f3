// Grades that the clinician states, against the features recorded beside them. Nothing is regraded
// here: a stated grade stands, and the disagreement is said.

#include <algorithm>
#include <array>

#include "assess/validate_visit.hpp"

namespace footbridge::validation {
namespace {

/// The four clinical stages that Fontaine and Rutherford share.
enum class Level : std::uint8_t { Free, Claudication, RestPain, TissueLoss };

std::string_view name(Level level) {
  constexpr std::array<std::string_view, 4> kNames{"no complaint", "claudication", "rest pain",
                                                   "a wound or gangrene"};
  return kNames[static_cast<std::size_t>(level)];
}

struct StageWord {
  std::string_view word;
  Level level{};
};

constexpr std::array kFontaine{StageWord{"I", Level::Free}, StageWord{"IIa", Level::Claudication},
                               StageWord{"IIb", Level::Claudication},
                               StageWord{"III", Level::RestPain},
                               StageWord{"IV", Level::TissueLoss}};

constexpr std::array kRutherford{
    StageWord{"0", Level::Free},         StageWord{"1", Level::Claudication},
    StageWord{"2", Level::Claudication}, StageWord{"3", Level::Claudication},
    StageWord{"4", Level::RestPain},     StageWord{"5", Level::TissueLoss},
    StageWord{"6", Level::TissueLoss}};

std::optional<Level> levelOf(std::string_view word, std::span<const StageWord> stages) {
  const auto found = std::find_if(stages.begin(), stages.end(),
                                  [word](const StageWord& stage) { return stage.word == word; });
  return found == stages.end() ? std::nullopt : std::optional{found->level};
}

/// The most advanced feature that is recorded as present.
Level recordedLevel(const Visit& visit, Side side) {
  if (visit.tissueLoss(side)) return Level::TissueLoss;
  if (affirmed(visit.find(Item::RestPain, side))) return Level::RestPain;
  return affirmed(visit.find(Item::Claudication, side)) ? Level::Claudication : Level::Free;
}

bool lossDenied(const Visit& visit, Side side) {
  return visit.word(Item::WoundDepth, side) == "none" && visit.word(Item::Gangrene, side) == "none";
}

/// True if the feature that the level stands for was looked for and denied.
bool featureDenied(const Visit& visit, Level level, Side side) {
  if (level == Level::TissueLoss) return lossDenied(visit, side);
  if (level == Level::RestPain) return denied(visit.find(Item::RestPain, side));
  return level == Level::Claudication && denied(visit.find(Item::Claudication, side));
}

void checkStage(Visit& visit, Side side, Item item, std::optional<Level> stated) {
  if (!stated) return;
  const Level recorded = recordedLevel(visit, side);
  const bool below = *stated < recorded;
  if (!below && !featureDenied(visit, *stated, side)) return;
  visit.remark(choose(below, "stated-stage-below-features", "stated-stage-above-features"), item,
               side,
               {{"reading", visit.naming(item, side)},
                {"word", visit.word(item, side)},
                {"feature", name(below ? recorded : *stated)}});
}

void checkStages(Visit& visit, Side side) {
  const auto fontaine = levelOf(visit.word(Item::StatedFontaine, side), kFontaine);
  const auto rutherford = levelOf(visit.word(Item::StatedRutherford, side), kRutherford);
  checkStage(visit, side, Item::StatedFontaine, fontaine);
  checkStage(visit, side, Item::StatedRutherford, rutherford);
  if (!fontaine || !rutherford || *fontaine == *rutherford) return;
  visit.remark("stated-stages-disagree", Item::StatedRutherford, side,
               {{"reading", visit.naming(Item::StatedRutherford, side)},
                {"word", visit.word(Item::StatedRutherford, side)},
                {"other", visit.naming(Item::StatedFontaine, side)},
                {"fontaine", visit.word(Item::StatedFontaine, side)}});
}

/// IIa is beyond the bound, IIb short of it; at the bound itself no sub-class is given.
void checkDistance(Visit& visit, Side side) {
  const std::string_view stage = visit.word(Item::StatedFontaine, side);
  const auto distance = plainNumber(visit.find(Item::ClaudicationDistance, side));
  if (!distance || (stage != "IIa" && stage != "IIb")) return;
  const std::int32_t bound = visit.figure("stated-fontaine-distance", "metres");
  const std::strong_ordering against = order(*distance, Decimal{bound, 0});
  if (stage == "IIa" ? against >= 0 : against <= 0) return;
  visit.remark("stated-fontaine-distance", Item::StatedFontaine, side,
               {{"reading", visit.naming(Item::StatedFontaine, side)},
                {"word", stage},
                {"distance", distance->text()},
                {"bound", std::to_string(bound)}});
}

void checkStatedWound(Visit& visit, Side side) {
  const std::string_view grade = visit.word(Item::StatedWound, side);
  if (grade.empty()) return;
  const bool differs = grade == "0" ? visit.tissueLoss(side) : lossDenied(visit, side);
  if (!differs) return;
  visit.remark("stated-wound-differs", Item::StatedWound, side,
               {{"reading", visit.naming(Item::StatedWound, side)}, {"word", grade}});
}

void checkStatedInfection(Visit& visit, Side side) {
  const std::string_view grade = visit.word(Item::StatedInfection, side);
  if (grade.empty()) return;
  const Reading* infection = visit.find(Item::Infection, side);
  if (grade == "0" ? !affirmed(infection) : !denied(infection)) return;
  visit.remark("stated-infection-differs", Item::StatedInfection, side,
               {{"reading", visit.naming(Item::StatedInfection, side)},
                {"word", grade},
                {"other", visit.naming(Item::Infection, side)},
                {"infection", chosenWord(infection)}});
}

void checkUnsalvageable(Visit& visit, Side side) {
  if (!affirmed(visit.find(Item::StatedUnsalvageable, side)) || !lossDenied(visit, side)) return;
  visit.remark("stated-unsalvageable-without-loss", Item::StatedUnsalvageable, side,
               {{"reading", visit.naming(Item::StatedUnsalvageable, side)}});
}

}  // namespace

void checkStated(Visit& visit) {
  for (const Side side : kSides) {
    checkStages(visit, side);
    checkDistance(visit, side);
    checkStatedWound(visit, side);
    checkStatedInfection(visit, side);
    checkUnsalvageable(visit, side);
  }
}

}  // namespace footbridge::validation
