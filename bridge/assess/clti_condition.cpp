#include "assess/clti_condition.hpp"

#include <algorithm>
#include <cassert>

#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

template <class Recorded>
std::string names(const std::vector<Recorded>& recorded, Answer present) {
  std::vector<std::string> out;
  for (const Recorded& one : recorded) {
    if (one.present == present) out.emplace_back(one.name);
  }
  return listing(out);
}

Answer longEnough(const Reading* days, const CltiDefinition& definition) {
  const Decimal bound{*definition.durationDays, 0};
  return definition.durationStrict ? above(days, bound) : atLeast(days, bound);
}

std::string askedDays(const CltiDefinition& definition) {
  const std::string days = std::to_string(*definition.durationDays) + " days";
  return (definition.durationStrict ? "more than " : "at least ") + days;
}

RowId durationRule(Answer answer) {
  if (answer == Answer::Yes) return "grade-clti-duration-met";
  if (answer == Answer::No) return "grade-clti-duration-unmet";
  return "grade-clti-duration-unknown";
}

}  // namespace

Conditions::Conditions(const Leg& leg)
    : leg_(leg), kinds_{kindOf("any"), kindOf("rest-pain"), kindOf("tissue-loss")} {}

Conditions::Kind Conditions::kindOf(std::string_view name) const {
  Kind kind{.name = name};
  if (name != "tissue-loss") {
    kind.recorded.push_back({"rest pain", restPain(leg_), Item::RestPainDays});
  }
  if (name != "rest-pain") {
    kind.recorded.push_back({"ulcer or gangrene", tissueLoss(leg_), Item::WoundDays});
  }
  const std::string present = names(kind.recorded, Answer::Yes);
  const std::string unknown = names(kind.recorded, Answer::Unknown);
  kind.present = !present.empty();
  const auto say = [&](RowId rule, const std::string& condition) {
    kind.remark = remark(leg_.tables, rule, {{"condition", condition}});
  };
  if (kind.present) {
    say("grade-clti-condition-present", present);
  } else if (!unknown.empty()) {
    say("grade-clti-condition-unknown", unknown);
  } else {
    say("grade-clti-condition-absent", names(kind.recorded, Answer::No));
  }
  return kind;
}

/// One present condition that has lasted is enough; none has lasted only if all are known not to.
Answer Conditions::anyLongEnough(const Kind& kind, const CltiDefinition& definition) const {
  Answer overall = Answer::No;
  for (const Recorded& one : kind.recorded) {
    if (one.present != Answer::Yes) continue;
    const Answer answer = longEnough(leg_.find(one.days), definition);
    if (answer == Answer::Yes) return answer;
    if (answer == Answer::Unknown) overall = answer;
  }
  return overall;
}

std::string Conditions::daysText(const Kind& kind) const {
  std::vector<std::string> out;
  for (const Recorded& one : kind.recorded) {
    const Reading* reading = leg_.find(one.days);
    if (one.present != Answer::Yes || reading == nullptr) continue;
    const auto* days = std::get_if<Decimal>(&reading->content);
    if (days == nullptr) continue;
    out.push_back(std::string{one.name} + ": " + std::string{symbol(reading->comparator)} +
                  days->text() + " days");
  }
  return listing(out);
}

void Conditions::remarkOn(Grade& grade, const CltiDefinition& definition) const {
  const auto* const kind = std::find_if(kinds_.begin(), kinds_.end(), [&](const Kind& one) {
    return one.name == definition.condition;
  });
  assert(kind != kinds_.end());
  grade.remarks.push_back(kind->remark);
  if (!kind->present || !definition.durationDays) return;
  grade.remarks.push_back(remark(leg_.tables, durationRule(anyLongEnough(*kind, definition)),
                                 {{"asked", askedDays(definition)}, {"days", daysText(*kind)}}));
}

}  // namespace footbridge::assess
