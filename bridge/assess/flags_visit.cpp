#include <algorithm>
#include <array>
#include <cstdlib>

#include "assess/flag_parts.hpp"
#include "assess/pressures.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

/// One for each published figure, since they mean different things.
constexpr std::array<RowId, 2> kInterArm{"flag-inter-arm-10", "flag-inter-arm-15"};

void flagInterArm(const std::vector<Index>& indices, const Tables& tables,
                  std::vector<Flag>& flags) {
  const auto found = std::find_if(indices.begin(), indices.end(), [](const Index& index) {
    return index.kind == IndexKind::InterArmDifference;
  });
  if (found == indices.end() || !found->difference) return;
  for (const RowId rule : kInterArm) {
    const std::int32_t bound = figure(tables, rule, "from");
    if (*found->difference < Pressure::mmhg(bound)) continue;
    Flag raised = flag(tables, rule, Side::None,
                       {{"value", found->difference->text()}, {"bound", std::to_string(bound)}});
    raised.inputs = found->inputs;
    raised.indices = {{found->kind, Side::None}};
    flags.push_back(raised);
  }
}

/// Where the other arm has a bound or a finding the index surely stands, or there is none.
void flagOneArm(const Assessment& assessment, const Tables& tables, std::vector<Flag>& flags) {
  const Chosen arm = armPressure(assessment, tables);
  const bool one = std::any_of(arm.remarks.begin(), arm.remarks.end(), [](const Remark& remark) {
    return remark.rule == "derive-one-arm";
  });
  if (!one) return;
  const ReadingRef& read = arm.inputs.front();
  Flag raised =
      flag(tables, "flag-one-arm", Side::None, {{"reading", tables.naming(read.item, read.side)}});
  raised.inputs = {read};
  flags.push_back(raised);
}

void flagPosture(const Assessment& assessment, const Tables& tables, std::vector<Flag>& flags) {
  const std::string_view posture = visitWord(assessment, Item::Posture);
  if (posture.empty() || posture == "supine") return;
  Flag raised = flag(tables, "flag-posture", Side::None, {{"posture", posture}});
  raised.inputs = {{Item::Posture, Side::None}};
  flags.push_back(raised);
}

void flagRest(const Assessment& assessment, const Tables& tables, std::vector<Flag>& flags) {
  const std::int32_t bound = figure(tables, "flag-short-rest", "below");
  const Reading* minutes = assessment.find(Item::RestMinutes, Side::None);
  if (below(minutes, Decimal{bound, 0}) != Answer::Yes) return;
  const std::string value =
      std::string{symbol(minutes->comparator)} + std::get<Decimal>(minutes->content).text();
  Flag raised = flag(tables, "flag-short-rest", Side::None,
                     {{"value", value}, {"bound", std::to_string(bound)}});
  raised.inputs = {{Item::RestMinutes, Side::None}};
  flags.push_back(raised);
}

void flagMethod(const Assessment& assessment, const Tables& tables, std::vector<Flag>& flags) {
  if (visitWord(assessment, Item::PressureMethod) != "automated") return;
  Flag raised = flag(tables, "flag-automated-method", Side::None);
  raised.inputs = {{Item::PressureMethod, Side::None}};
  flags.push_back(raised);
}

void flagLegsDiffer(const Assessment& assessment, const std::vector<Index>& indices,
                    const Tables& tables, std::vector<Flag>& flags) {
  const Leg rightLeg{assessment, indices, tables, Side::Right};
  const Leg leftLeg{assessment, indices, tables, Side::Left};
  const auto right = rightLeg.hundredths(IndexKind::Abi);
  const auto left = leftLeg.hundredths(IndexKind::Abi);
  const std::int32_t bound = figure(tables, "flag-legs-differ", "above");
  if (!right || !left || std::abs(*right - *left) <= bound) return;
  Flag raised = flag(tables, "flag-legs-differ", Side::None,
                     {{"right", hundredthsText(*right)},
                      {"left", hundredthsText(*left)},
                      {"bound", hundredthsText(bound)}});
  raised.indices = {{IndexKind::Abi, Side::Right}, {IndexKind::Abi, Side::Left}};
  flags.push_back(raised);
}

}  // namespace

void flagVisit(const Assessment& assessment, const std::vector<Index>& indices,
               const Tables& tables, std::vector<Flag>& flags) {
  flagInterArm(indices, tables, flags);
  flagOneArm(assessment, tables, flags);
  flagPosture(assessment, tables, flags);
  flagRest(assessment, tables, flags);
  flagMethod(assessment, tables, flags);
  flagLegsDiffer(assessment, indices, tables, flags);
}

}  // namespace footbridge::assess
