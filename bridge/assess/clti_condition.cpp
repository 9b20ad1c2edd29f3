#include "assess/clti_condition.hpp"

#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

/// A condition of the definition as it is recorded, with the item that says for how long.
struct Recorded {
  std::string_view name;
  Answer present = Answer::Unknown;
  Item days{};
};

std::vector<Recorded> recordedFor(const Leg& leg, std::string_view condition) {
  std::vector<Recorded> recorded;
  if (condition != "tissue-loss") {
    recorded.push_back({"rest pain", restPain(leg), Item::RestPainDays});
  }
  if (condition != "rest-pain") {
    recorded.push_back({"ulcer or gangrene", tissueLoss(leg), Item::WoundDays});
  }
  return recorded;
}

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

/// One present condition that has lasted is enough; none has lasted only if all are known not to.
Answer anyLongEnough(const std::vector<Recorded>& recorded, const Leg& leg,
                     const CltiDefinition& definition) {
  Answer overall = Answer::No;
  for (const Recorded& one : recorded) {
    if (one.present != Answer::Yes) continue;
    const Answer answer = longEnough(leg.find(one.days), definition);
    if (answer == Answer::Yes) return answer;
    if (answer == Answer::Unknown) overall = answer;
  }
  return overall;
}

std::string daysText(const std::vector<Recorded>& recorded, const Leg& leg) {
  std::vector<std::string> out;
  for (const Recorded& one : recorded) {
    const Reading* reading = leg.find(one.days);
    if (one.present != Answer::Yes || reading == nullptr) continue;
    const auto* days = std::get_if<Decimal>(&reading->content);
    if (days == nullptr) continue;
    out.push_back(std::string{one.name} + ": " + std::string{symbol(reading->comparator)} +
                  days->text() + " days");
  }
  return listing(out);
}

std::string_view durationRule(Answer answer) {
  if (answer == Answer::Yes) return "grade-clti-duration-met";
  return answer == Answer::No ? "grade-clti-duration-unmet" : "grade-clti-duration-unknown";
}

void remarkDuration(Grade& grade, const std::vector<Recorded>& recorded, const Leg& leg,
                    const CltiDefinition& definition) {
  if (!definition.durationDays) return;
  const Answer answer = anyLongEnough(recorded, leg, definition);
  grade.remarks.push_back(
      remark(leg.tables, durationRule(answer),
             {{"asked", askedDays(definition)}, {"days", daysText(recorded, leg)}}));
}

}  // namespace

void remarkCondition(Grade& grade, const Leg& leg, const CltiDefinition& definition) {
  const std::vector<Recorded> recorded = recordedFor(leg, definition.condition);
  const std::string present = names(recorded, Answer::Yes);
  const std::string unknown = names(recorded, Answer::Unknown);
  if (!present.empty()) {
    grade.remarks.push_back(
        remark(leg.tables, "grade-clti-condition-present", {{"condition", present}}));
    remarkDuration(grade, recorded, leg, definition);
  } else if (!unknown.empty()) {
    grade.remarks.push_back(
        remark(leg.tables, "grade-clti-condition-unknown", {{"condition", unknown}}));
  } else {
    grade.remarks.push_back(remark(leg.tables, "grade-clti-condition-absent",
                                   {{"condition", names(recorded, Answer::No)}}));
  }
}

}  // namespace footbridge::assess
