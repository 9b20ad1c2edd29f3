#include "package/summary.hpp"

#include <algorithm>
#include <array>

#include "package/wording.hpp"

namespace footbridge::package {
namespace {

struct Leg {
  const Assessment& assessment;
  const Findings& findings;
  const Tables& tables;
  std::string_view ruleSet;
  Side side;
};

/// "Ankle-brachial index: 0.79, abnormal (ACC/AHA ..., 2024)."
std::string indexLine(const Leg& leg, IndexKind kind, std::string_view scheme) {
  const Index* index = leg.findings.find(kind, leg.side);
  if (index == nullptr) return {};
  std::string out = leg.tables.row(kind).label + ": " + spoken(*index, leg.tables);
  if (!index->present()) return out;
  const RuleSet* set = leg.tables.ruleSet(leg.ruleSet);
  const Grade* grade = leg.findings.find(scheme, leg.side, leg.ruleSet);
  const std::string source = " (" + (set ? set->name : std::string(leg.ruleSet)) + ").";
  return out + ", " + bandOfIndex(grade) + source;
}

void addRemarks(std::vector<std::string>& lines, const std::vector<Remark>& remarks) {
  for (const Remark& remark : remarks) {
    if (std::find(lines.begin(), lines.end(), remark.text) == lines.end()) {
      lines.push_back(remark.text);
    }
  }
}

/// The three grades and what the grid makes of them; why one is missing stands after them.
void addThreat(const Leg& leg, std::vector<std::string>& lines) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 6> kParts{
      {{"wifi-wound", "wound "},
       {"wifi-ischaemia", ", ischaemia "},
       {"wifi-infection", ", foot infection "},
       {"wifi-stage", "; stage "},
       {"wifi-amputation-risk", "; amputation risk "},
       {"wifi-revascularisation-benefit",
        "; benefit of revascularisation (infection controlled first) "}}};
  std::string line = "WIfI: ";
  std::vector<std::string> reasons;
  bool any = false;
  for (const auto& [scheme, name] : kParts) {
    const Grade* grade = leg.findings.find(scheme, leg.side);
    (line += name) += grade == nullptr ? "not graded" : shortOutcome(*grade);
    any = any || (grade != nullptr && grade->present());
    if (grade == nullptr || grade->because.empty()) continue;
    if (std::find(reasons.begin(), reasons.end(), grade->because) == reasons.end()) {
      reasons.push_back(grade->because);
    }
  }
  if (!any) line = "WIfI: not graded";
  lines.push_back(line + ".");
  lines.insert(lines.end(), reasons.begin(), reasons.end());
}

/// One more entry of a list, joined from its parts.
template <class... Parts>
void addTo(std::string& list, const Parts&... parts) {
  if (!list.empty()) list += "; ";
  (list.append(parts), ...);
}

/// Which definitions' pressure criteria are met, which are not, and which cannot be settled.
void addCriteria(const Leg& leg, std::vector<std::string>& lines) {
  std::string met;
  std::string unmet;
  std::string open;
  for (const Grade& grade : leg.findings.grades) {
    if (grade.side != leg.side || !sameText(grade.scheme, "clti-criterion")) continue;
    std::string& list = grade.outcome == "criterion-met"       ? met
                        : grade.outcome == "criterion-not-met" ? unmet
                                                               : open;
    addTo(list, leg.tables.criterionName(grade.ruleSet));
  }
  if (!met.empty()) {
    lines.push_back("Meets the published pressure criterion of: " + met +
                    ". Whether the clinical condition holds is for the clinician.");
  }
  if (!unmet.empty()) lines.push_back("Does not meet the pressure criterion of: " + unmet + ".");
  if (!open.empty()) {
    lines.push_back("Criterion cannot be settled from what was read: " + open + ".");
  }
}

/// Stages as stated or as the features give them; why one is missing stands after it.
void addStages(const Leg& leg, std::vector<std::string>& lines) {
  for (const std::string_view scheme : {"fontaine", "rutherford"}) {
    const Grade* grade = leg.findings.find(scheme, leg.side);
    if (grade == nullptr || !(grade->present() || complains(leg.assessment, leg.side))) continue;
    lines.push_back(std::string(schemeLabel(*grade, leg.tables)) + ": " +
                    spoken(*grade, leg.tables) + (grade->present() ? "." : ""));
  }
}

/// What was derived beside the two main indices, and the published figures that it meets.
void addFurther(const Leg& leg, std::vector<std::string>& lines) {
  std::string values;
  for (const Index& index : leg.findings.indices) {
    const bool further =
        index.kind == IndexKind::AbiAfterExercise ||
        (index.kind >= IndexKind::ThighGradient && index.kind <= IndexKind::ToePressureChange);
    if (index.side != leg.side || !further || !index.present()) continue;
    addTo(values, leg.tables.row(index.kind).label, " ", spoken(index, leg.tables));
  }
  if (!values.empty()) lines.push_back("Derived: " + values + ".");
}

/// Figures met of one scheme by name, the others by number.
void addFigures(const Leg& leg, std::string_view scheme, std::vector<std::string>& lines) {
  std::string met;
  std::size_t unmet = 0;
  std::size_t open = 0;
  for (const Grade& grade : leg.findings.grades) {
    if (grade.side != leg.side || !sameText(grade.scheme, scheme)) continue;
    if (grade.outcome == "criterion-met") {
      addTo(met, leg.tables.criterionName(grade.ruleSet));
    } else {
      ++(grade.outcome == "criterion-not-met" ? unmet : open);
    }
  }
  if (met.empty() && unmet + open == 0) return;
  lines.push_back(leg.tables.concept_(scheme)->label + ": met " +
                  (met.empty() ? "none" : "(" + met + ")") + "; not met " + std::to_string(unmet) +
                  "; cannot be settled " + std::to_string(open) + ".");
}

/// Why a text on compression is not given; where it is, it stands among the doubts with its
/// cautions.
void addCompression(const Leg& leg, std::vector<std::string>& lines) {
  const Grade* grade = leg.findings.find("compression-band", leg.side);
  if (grade == nullptr || grade->present()) return;
  lines.push_back(grade->because);
}

/// A remark that a reader must not miss, and the grades it was made on.
struct Doubt {
  std::string text;
  std::string on;
};

void addDoubt(std::vector<Doubt>& doubts, const std::string& text, std::string_view on) {
  const auto found = std::find_if(doubts.begin(), doubts.end(),
                                  [&text](const Doubt& doubt) { return doubt.text == text; });
  if (found == doubts.end()) {
    doubts.push_back({text, std::string(on)});
  } else if (found->on.find(on) == std::string::npos) {
    addTo(found->on, on);
  }
}

bool isOfOtherSet(const Grade& grade, std::string_view ruleSet) {
  return (grade.scheme == "abi-band" || grade.scheme == "tbi-band") && grade.ruleSet != ruleSet;
}

/// What the rules call a warning among the remarks on the grades, each once.
void addDoubts(const Leg& leg, std::vector<std::string>& lines) {
  std::vector<Doubt> doubts;
  for (const Grade& grade : leg.findings.grades) {
    if (grade.side != leg.side || isOfOtherSet(grade, leg.ruleSet)) continue;
    for (const Remark& remark : grade.remarks) {
      if (remark.severity != Severity::Warning) continue;
      addDoubt(doubts, remark.text,
               isCriterion(grade) ? leg.tables.criterionName(grade.ruleSet)
                                  : schemeLabel(grade, leg.tables));
    }
  }
  for (const Doubt& doubt : doubts) lines.push_back(doubt.text + " (" + doubt.on + ")");
}

/// What was read, in the words of the reading, since an index alone hides what it was made of.
void addReadings(const Leg& leg, std::string_view title, Item first, Item last,
                 std::vector<std::string>& lines) {
  std::string list;
  for (const Reading& reading : leg.assessment.readings) {
    if (reading.side != leg.side || reading.item < first || reading.item > last) continue;
    addTo(list, leg.tables.row(reading.item).label, " ", spoken(reading, leg.tables));
  }
  if (!list.empty()) lines.push_back(std::string(title) + ": " + list + ".");
}

SummaryPart legPart(const Leg& leg) {
  SummaryPart out{leg.side == Side::Right ? "Right leg" : "Left leg", {}};
  const bool examined = std::any_of(
      leg.assessment.readings.begin(), leg.assessment.readings.end(), [&leg](const Reading& r) {
        return r.side == leg.side && r.item > Item::ArmSystolicAfterExercise;
      });
  if (!examined) {
    out.lines.emplace_back("Nothing was recorded. This says nothing about the leg.");
    return out;
  }
  addReadings(leg, "Pulses and Doppler", Item::PulseFemoral, Item::DopplerAnteriorTibial,
              out.lines);
  addReadings(leg, "Pressures", Item::AnkleDorsalisPedis, Item::ExercisePosteriorTibial, out.lines);
  addReadings(leg, "Symptoms and foot", Item::RestPain, Item::InfectionDeep, out.lines);
  addReadings(leg, "Stated by the clinician", Item::StatedWound, Item::HistoryAmputation,
              out.lines);
  addReadings(leg, "From an earlier assessment", Item::PreviousAbi, Item::PreviousToePressure,
              out.lines);
  out.lines.push_back(indexLine(leg, IndexKind::Abi, "abi-band"));
  out.lines.push_back(indexLine(leg, IndexKind::Tbi, "tbi-band"));
  addThreat(leg, out.lines);
  addCriteria(leg, out.lines);
  addStages(leg, out.lines);
  addFurther(leg, out.lines);
  for (const std::string_view scheme :
       {"rutherford-criterion", "exercise-criterion", "change-criterion", "healing-criterion",
        "segment-criterion"}) {
    addFigures(leg, scheme, out.lines);
  }
  addCompression(leg, out.lines);
  addDoubts(leg, out.lines);
  for (const IndexKind kind : {IndexKind::Abi, IndexKind::Tbi}) {
    if (const Index* index = leg.findings.find(kind, leg.side))
      addRemarks(out.lines, index->remarks);
  }
  return out;
}

SummaryPart flagPart(const Findings& findings) {
  SummaryPart out{"Reliability and safety", {}};
  for (const Flag& flag : findings.flags) out.lines.push_back(spoken(flag));
  return out;
}

SummaryPart queryPart(const Issues& issues) {
  SummaryPart out{"Queries on the readings", {}};
  for (const Issue& issue : issues) {
    if (issue.severity == Severity::Warning) out.lines.push_back(issue.text);
  }
  return out;
}

}  // namespace

std::vector<SummaryPart> summarise(const Assessment& assessment, const Findings& findings,
                                   const Issues& issues, const Tables& tables,
                                   std::string_view ruleSet) {
  std::vector<SummaryPart> out;
  out.reserve(kSides.size() + 2);
  for (const Side side : kSides) {
    out.push_back(legPart({assessment, findings, tables, ruleSet, side}));
  }
  out.push_back(flagPart(findings));
  out.push_back(queryPart(issues));
  std::erase_if(out, [](const SummaryPart& part) { return part.lines.empty(); });
  return out;
}

const std::vector<std::string>& cautions() {
  static const std::vector<std::string> kCautions{
      "Decision support only: local policy and the judgement of a licensed practitioner come "
      "first.",
      "A normal or raised ankle index does not exclude disease where arteries may be stiff, as in "
      "diabetes and kidney disease.",
      "A reading that is missing here was not taken as normal.",
      "Grades say that a published threshold is met, with its source; they do not say what to do."};
  return kCautions;
}

}  // namespace footbridge::package
