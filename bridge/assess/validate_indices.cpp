// Limits on what was derived. An index that cannot be, means a reading that cannot be.

#include <algorithm>
#include <array>

#include "assess/validate.hpp"
#include "assess/validate_visit.hpp"

namespace footbridge {
namespace {

using validation::Visit;

const Index* find(const std::vector<Index>& indices, IndexKind kind, Side side) {
  const auto found = std::find_if(indices.begin(), indices.end(), [=](const Index& index) {
    return index.kind == kind && index.side == side && index.hundredths;
  });
  return found == indices.end() ? nullptr : &*found;
}

bool fromArm(const ReadingRef& input) {
  return input.item == Item::ArmSystolic || input.item == Item::ArmSystolicAfterExercise;
}

/// The reading from the leg, which is likelier mistyped than an arm that serves both legs.
std::string placeOf(const Visit& visit, const Index& index) {
  const auto leg = std::find_if_not(index.inputs.begin(), index.inputs.end(), fromArm);
  if (leg == index.inputs.end()) return "/legs/" + std::string{word(index.side)};
  return visit.tables().place(leg->item, leg->side);
}

void remarkOn(Visit& visit, RowId rule, const Index& index, std::int32_t bound) {
  std::string name = visit.tables().row(index.kind).label;
  if (index.side != Side::None) name.append(" (").append(word(index.side)).append(")");
  visit.remarkAt(rule, placeOf(visit, index),
                 {{"index", name},
                  {"value", hundredthsText(*index.hundredths)},
                  {"bound", hundredthsText(bound)}});
}

bool checkPossible(Visit& visit, const Index& index) {
  const std::int32_t highest =
      visit.figure("index-impossible", index.kind == IndexKind::Tbi ? "tbi" : "abi");
  if (*index.hundredths > 0 && *index.hundredths <= highest) return true;
  remarkOn(visit, "index-impossible", index, highest);
  return false;
}

void checkUsual(Visit& visit, const Index& index) {
  const bool toe = index.kind == IndexKind::Tbi;
  if (!toe && index.kind != IndexKind::Abi) return;
  if (!toe) {
    const std::int32_t lowest = visit.figure("abi-low", "below");
    if (*index.hundredths < lowest) remarkOn(visit, "abi-low", index, lowest);
  }
  const std::string_view rule = toe ? "tbi-high" : "abi-high";
  const std::int32_t highest = visit.figure(rule, "above");
  if (*index.hundredths > highest) remarkOn(visit, rule, index, highest);
}

void checkToeAgainstAnkle(Visit& visit, const std::vector<Index>& indices, Side side) {
  const Index* abi = find(indices, IndexKind::Abi, side);
  const Index* tbi = find(indices, IndexKind::Tbi, side);
  if (abi == nullptr || tbi == nullptr || *tbi->hundredths <= *abi->hundredths) return;
  remarkOn(visit, "tbi-above-abi", *tbi, *abi->hundredths);
}

}  // namespace

Issues validateIndices(const std::vector<Index>& indices, const Assessment& assessment,
                       const Tables& tables) {
  Visit visit{assessment, assessment.measuredAt, tables};
  for (const Index& index : indices) {
    if (!isRatio(index.kind) || !index.hundredths) continue;
    if (checkPossible(visit, index)) checkUsual(visit, index);
  }
  for (const Side side : kSides) checkToeAgainstAnkle(visit, indices, side);
  return visit.take();
}

}  // namespace footbridge
