// What published definitions of chronic limb-threatening ischaemia, and Rutherford categories, ask
// of pressures, side by side.
// The pressure criterion is the grade; the clinical condition and its duration stand beside it as
// remarks, since most definitions join them differently.

#include <algorithm>
#include <array>
#include <cassert>

#include "assess/clti_condition.hpp"
#include "assess/grade_schemes.hpp"
#include "assess/pressures.hpp"
#include "assess/sentences.hpp"
#include "tables/thresholds.hpp"

namespace footbridge::assess {
namespace {

/// Room for what most definitions say of a leg.
constexpr std::size_t kUsualRemarks = 4;

/// In the order of Threshold::says.
enum class Reply : std::uint8_t { Met, NotMet, Undecided, Unmeasured };
enum class Ankle : std::uint8_t { Higher, Lower };

/// A measure as far as it is known, and where that comes from.
struct Measured {
  std::optional<Span> span{};
  std::vector<ReadingRef> readings{};
  std::vector<IndexRef> indices{};
};

/// One threshold with its answer.
struct Asked {
  const Threshold* threshold = nullptr;
  const Measured* measured = nullptr;
  Reply reply = Reply::Unmeasured;
};

/// One answer for each threshold of a definition, which asks for a measure at most once.
class Answers {
 public:
  void add(const Asked& one) {
    assert(count_ < all_.size());
    all_[count_++] = one;
  }
  const Asked* begin() const { return all_.data(); }
  const Asked* end() const { return all_.data() + count_; }

 private:
  std::array<Asked, 4> all_{};
  std::size_t count_ = 0;
};

/// All measures of a leg, taken once for all definitions.
struct Measures {
  Measured abi{};
  Measured ankle{};
  Measured toe{};
  Measured tcpo2{};

  const Measured& named(std::string_view name) const {
    if (name == "abi") return abi;
    if (name == "ankle") return ankle;
    return name == "toe" ? toe : tcpo2;
  }
};

/// The rows of rules.json that every definition needs, looked up once for all of them.
struct Rules {
  explicit Rules(const Tables& tables)
      : borrowed(tables.rule("grade-clti-borrowed")),
        highIndex(figure(tables, "grade-clti-high-index", "above")) {
    for (std::size_t i = 0; i < measure.size(); ++i) measure[i] = &tables.rule(kThresholdRules[i]);
  }

  std::array<const Rule*, kThresholdRules.size()> measure{};  ///< by Reply
  const Rule& borrowed;
  std::int32_t highIndex;  ///< hundredths
};

/// A leg by its higher and by its lower ankle artery.
struct Both {
  Measures higher{};
  Measures lower{};
  std::optional<Span> lowerAnkle{};
  bool hard = false;
};

/// The index of the artery that was read beside a hard one; else of the lower of two.
std::optional<IndexKind> lowerIndex(const Leg& leg) {
  static constexpr std::array kKinds{IndexKind::AbiLowAnkle, IndexKind::AbiDorsalisPedis,
                                     IndexKind::AbiPosteriorTibial};
  const auto found = std::find_if(kKinds.begin(), kKinds.end(),
                                  [&](IndexKind kind) { return leg.hundredths(kind).has_value(); });
  return found == kKinds.end() ? std::nullopt : std::optional{*found};
}

Measured indexMeasure(const Leg& leg, Ankle which) {
  const auto kind = which == Ankle::Higher ? std::optional{IndexKind::Abi} : lowerIndex(leg);
  const auto value = kind ? leg.hundredths(*kind) : std::nullopt;
  if (!value) return {};
  return {.span = Span{*value, *value}, .indices = {{*kind, leg.side}}};
}

Both measuresOf(const Leg& leg) {
  const AnkleSpans spans = ankleSpans(leg.assessment, leg.side);
  const Measured toe{.span = toeSpan(leg), .readings = {{Item::ToePressure, leg.side}}};
  const Measured tcpo2{.span = tcpo2Span(leg), .readings = {{Item::Tcpo2, leg.side}}};
  return {.higher = {indexMeasure(leg, Ankle::Higher), {spans.higher, spans.inputs}, toe, tcpo2},
          .lower = {indexMeasure(leg, Ankle::Lower), {spans.lower, spans.inputs}, toe, tcpo2},
          .lowerAnkle = spans.lower,
          .hard = spans.hard};
}

/// Met below `low`, not met above `high`, undecided from one to the other.
Reply compare(const Span& span, std::int32_t low, std::int32_t high) {
  if (allBelow(span, low)) return Reply::Met;
  return allAbove(span, high) ? Reply::NotMet : Reply::Undecided;
}

Reply replyOf(const Threshold& threshold, const std::optional<Span>& span) {
  if (!span) return Reply::Unmeasured;
  if (threshold.below) return compare(*span, *threshold.below, *threshold.below - 1);
  if (threshold.atMost) return compare(*span, *threshold.atMost + 1, *threshold.atMost);
  return compare(*span, *threshold.rangeFrom, *threshold.rangeTo);
}

Answers askAll(const CltiDefinition& definition, const Measures& measures) {
  Answers asked;
  for (const Threshold& threshold : definition.thresholds) {
    const Measured& measured = measures.named(threshold.measure);
    asked.add({&threshold, &measured, replyOf(threshold, measured.span)});
  }
  return asked;
}

const Asked* first(const Answers& asked, Reply reply) {
  const Asked* found = std::find_if(asked.begin(), asked.end(),
                                    [=](const Asked& one) { return one.reply == reply; });
  return found == asked.end() ? nullptr : found;
}

bool all(const Answers& asked, Reply reply) {
  return std::all_of(asked.begin(), asked.end(),
                     [=](const Asked& one) { return one.reply == reply; });
}

/// Where the source joins its measures by no word, one that is certainly unmet leaves it open.
bool joinOpen(const CltiDefinition& definition, const Answers& asked) {
  return definition.join == Join::NotStated && first(asked, Reply::Met) != nullptr &&
         (first(asked, Reply::NotMet) != nullptr || first(asked, Reply::Undecided) != nullptr);
}

/// Any met is met; all measured and unmet is not met; else nobody can say.
std::string_view outcomeOf(const CltiDefinition& definition, const Answers& asked) {
  if (joinOpen(definition, asked)) return "criterion-cannot-say";
  if (first(asked, Reply::Met) != nullptr) return "criterion-met";
  return all(asked, Reply::NotMet) ? "criterion-not-met" : "criterion-cannot-say";
}

std::string valueText(std::string_view measure, const Span& span) {
  return measure == "abi" ? hundredthsText(span.lowest) : mmhgText(span);
}

Remark remarkOn(const Asked& asked, const Rules& rules) {
  const auto reply = static_cast<std::size_t>(asked.reply);
  const Rule& rule = *rules.measure[reply];
  const auto& span = asked.measured->span;
  const std::string value = span ? valueText(asked.threshold->measure, *span) : "";
  return {rule.id, asked.threshold->says[reply].fill({{"value", value}}), rule.severity};
}

std::string spoken(std::string_view outcome) {
  if (outcome == "criterion-met") return "met";
  return outcome == "criterion-not-met" ? "not met" : "cannot be said";
}

/// The artery read beside a hard one may be hard as well, so it can meet a criterion but not miss
/// it: it is asked where nothing else meets the criterion.
Answers askedOf(const CltiDefinition& definition, const Both& both) {
  Answers asked = askAll(definition, both.higher);
  if (!both.hard || first(asked, Reply::Met) != nullptr) return asked;
  Answers beside = askAll(definition, both.lower);
  return first(beside, Reply::Met) == nullptr ? asked : beside;
}

/// Both answers are shown where the lower artery says otherwise.
void remarkLowerAnkle(Grade& grade, const Leg& leg, const CltiDefinition& definition,
                      const Both& both) {
  if (!both.lowerAnkle) return;
  const std::string_view other =
      outcomeOf(definition, askAll(definition, both.hard ? both.higher : both.lower));
  if (other == grade.outcome) return;
  grade.remarks.push_back(
      remark(leg.tables, choose(both.hard, "grade-clti-read-artery", "grade-clti-lower-artery"),
             {{"value", mmhgText(*both.lowerAnkle)}, {"answer", spoken(other)}}));
}

/// A hard artery can hide a low pressure behind a high index.
void remarkHighIndex(Grade& grade, const Leg& leg, std::int32_t bound) {
  const auto index = leg.hundredths(IndexKind::Abi);
  if (grade.outcome == "criterion-met" || !index || *index <= bound) return;
  grade.remarks.push_back(
      remark(leg.tables, "grade-clti-high-index",
             {{"value", hundredthsText(*index)}, {"bound", hundredthsText(bound)}}));
}

/// Some definitions name no pressure; the figures are then a review's.
void remarkBorrowed(Grade& grade, const Rule& rule, const CltiDefinition& definition) {
  if (rule.number(definition.id) == nullptr) return;
  grade.remarks.push_back(remark(rule, {{"definition", definition.name}}));
}

const Source& sourceFor(const Answers& asked, const CltiDefinition& definition) {
  const Asked* met = first(asked, Reply::Met);
  const bool own = met != nullptr && !met->threshold->source.text.empty();
  return own ? met->threshold->source : definition.source;
}

Grade cltiGrade(const Leg& leg, const CltiDefinition& definition, const Both& both,
                const Conditions& conditions, const Rules& rules) {
  Grade grade = blank(leg, definition.scheme, definition.id);
  const Answers asked = askedOf(definition, both);
  decide(grade, outcomeOf(definition, asked), definition.id, sourceFor(asked, definition));
  grade.remarks.reserve(kUsualRemarks);
  for (const Asked& one : asked) {
    if (one.measured->span) {
      unite(grade.inputs, one.measured->readings);
      unite(grade.indices, one.measured->indices);
    }
    grade.remarks.push_back(remarkOn(one, rules));
  }
  if (joinOpen(definition, asked)) {
    grade.remarks.push_back(remark(leg.tables, "grade-rutherford-join"));
  }
  remarkLowerAnkle(grade, leg, definition, both);
  if (all(asked, Reply::Unmeasured)) {
    leaveOpen(grade, AbsentReason::Unknown,
              sentence(leg.tables, "grade-clti-none", {{"definition", definition.name}}));
  } else {
    remarkHighIndex(grade, leg, rules.highIndex);
  }
  remarkBorrowed(grade, rules.borrowed, definition);
  conditions.remarkOn(grade, definition);
  return grade;
}

}  // namespace

void addCltiGrades(const Leg& leg, std::vector<Grade>& grades) {
  const Both both = measuresOf(leg);
  const Conditions conditions(leg);
  const Rules rules(leg.tables);
  const bool staged = stageRecorded(leg);
  for (const CltiDefinition& definition : leg.tables.clti) {
    if (definition.scheme != "clti-criterion" && !staged) continue;
    grades.push_back(cltiGrade(leg, definition, both, conditions, rules));
  }
}

}  // namespace footbridge::assess
