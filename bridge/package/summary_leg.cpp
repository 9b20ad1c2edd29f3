#include "package/summary_leg.hpp"

#include <algorithm>
#include <array>

#include "package/wording.hpp"

namespace footbridge::package {
namespace {

using Lines = std::vector<std::string>;

void addNew(Lines& lines, const std::string& line) {
  if (std::find(lines.begin(), lines.end(), line) == lines.end()) lines.push_back(line);
}

bool has(const std::vector<Remark>& remarks, std::string_view rule) {
  return std::any_of(remarks.begin(), remarks.end(),
                     [rule](const Remark& remark) { return sameText(remark.rule, rule); });
}

/// "Ankle-brachial index: 0.79, abnormal (ACC/AHA ..., 2024)."
void addIndex(const LegFindings& leg, IndexKind kind, std::string_view scheme, Lines& lines) {
  const Index* index = leg.findings.find(kind, leg.side);
  if (index == nullptr) return;
  std::string line = leg.tables.row(kind).label + ": ";
  if (index->present()) {
    ((line += classed(leg, *index, scheme) + " (") += nameOfRuleSet(leg.tables, leg.ruleSet)) +=
        ").";
  } else {
    line += spoken(*index, leg.tables);
  }
  lines.push_back(line);
  for (const Remark& remark : index->remarks) addNew(lines, remark.text);
}

/// Whether one of the three has a grade.
bool threatGraded(const LegFindings& leg) {
  return threat(leg.findings, leg.side).find_first_not_of("?-") != std::string::npos;
}

/// The three grades and what the grid makes of them; why one is missing stands after them.
void addThreat(const LegFindings& leg, Lines& lines) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 6> kParts{
      {{"wifi-wound", "wound "},
       {"wifi-ischaemia", ", ischaemia "},
       {"wifi-infection", ", foot infection "},
       {"wifi-stage", "; stage "},
       {"wifi-amputation-risk", "; amputation risk "},
       {"wifi-revascularisation-benefit",
        "; benefit of revascularisation (infection controlled first) "}}};
  std::string line = "WIfI: ";
  Lines reasons;
  for (const auto& [scheme, name] : kParts) {
    const Grade* grade = leg.findings.find(scheme, leg.side);
    (line += name) += grade == nullptr ? "not graded" : shortOutcome(*grade);
    if (grade != nullptr && !grade->because.empty()) addNew(reasons, grade->because);
  }
  const bool stage = leg.findings.find("wifi-stage", leg.side) != nullptr &&
                     leg.findings.find("wifi-stage", leg.side)->present();
  lines.push_back((threatGraded(leg) || stage ? line : "WIfI: not graded") + ".");
  lines.insert(lines.end(), reasons.begin(), reasons.end());
}

/// The pressure criteria of one leg: by name where they are answered.
struct Criteria {
  std::string met;
  std::string metWithout;  ///< the pressure is, the clinical condition is recorded as absent
  std::string unmet;
};

Criteria criteriaOf(const LegFindings& leg) {
  Criteria out;
  for (const Grade& grade : leg.findings.grades) {
    if (grade.side != leg.side || !sameText(grade.scheme, "clti-criterion")) continue;
    const std::string_view name = leg.tables.criterionName(grade.ruleSet);
    if (grade.outcome == "criterion-met") {
      addTo(has(grade.remarks, "grade-clti-condition-absent") ? out.metWithout : out.met, name);
    } else if (grade.outcome == "criterion-not-met") {
      addTo(out.unmet, name);
    }
  }
  return out;
}

/// Which definitions' pressure criteria are met, which are not, and how many cannot be settled.
void addCriteria(const LegFindings& leg, Lines& lines) {
  const CriteriaCount count = cltiCriteria(leg.findings, leg.side);
  if (count.all == 0) return;
  const Criteria criteria = criteriaOf(leg);
  if (!criteria.met.empty()) {
    lines.push_back("Meets the published pressure criterion for limb-threatening ischaemia of: " +
                    criteria.met + ". Whether the clinical condition holds is for the clinician.");
  }
  if (!criteria.metWithout.empty()) {
    lines.push_back("Reaches the pressure figure of: " + criteria.metWithout +
                    "; the clinical condition that it goes with is recorded as absent.");
  }
  if (!criteria.unmet.empty()) {
    lines.push_back("Does not meet the pressure criterion of: " + criteria.unmet + ".");
  }
  if (count.open == 0) return;
  lines.push_back(std::to_string(count.open) + " of " + std::to_string(count.all) +
                  " pressure criteria for limb-threatening ischaemia cannot be settled from what "
                  "was read.");
}

/// Stages as stated or as the features give them; why one is missing stands after it.
void addStages(const LegFindings& leg, Lines& lines) {
  for (const std::string_view scheme : {"fontaine", "rutherford"}) {
    const Grade* grade = leg.findings.find(scheme, leg.side);
    if (grade == nullptr || !(grade->present() || complains(leg.assessment, leg.side))) continue;
    const std::string_view label = schemeLabel(*grade, leg.tables);
    std::string line = std::string(label) + ": " + beside(label, spoken(*grade, leg.tables));
    if (grade->present()) line += '.';
    for (const Remark& remark : grade->remarks) line += " " + remark.text;
    lines.push_back(line);
  }
}

/// "lower by 0.20", as people compare.
std::string turned(const Index& change, const Tables& tables) {
  const std::string value = spoken(change, tables);
  if (value.find_first_of("123456789") == std::string::npos) return "the same";
  return value.starts_with('-') ? "lower by " + value.substr(1) : "higher by " + value;
}

/// What was derived beside the two main indices.
void addFurther(const LegFindings& leg, Lines& lines) {
  std::string values;
  std::string changes;
  for (const Index& index : leg.findings.indices) {
    if (index.side != leg.side || !index.present()) continue;
    const std::string& label = leg.tables.row(index.kind).label;
    if (index.kind >= IndexKind::AbiChange && index.kind <= IndexKind::ToePressureChange) {
      addTo(changes, label, ": ", turned(index, leg.tables));
    } else if (index.kind == IndexKind::AbiAfterExercise ||
               (index.kind >= IndexKind::ThighGradient && index.kind < IndexKind::AbiChange)) {
      addTo(values, label, " ", spoken(index, leg.tables));
    }
  }
  if (!values.empty()) lines.push_back("Derived: " + values + ".");
  if (changes.empty()) return;
  const auto& on = leg.assessment.previousOn;
  lines.push_back("Compared with the earlier assessment" +
                  (on ? " of " + footbridge::spoken(*on) : "") + ": " + changes + ".");
}

/// Figures met of one scheme by name, the others by number.
void addFigures(const LegFindings& leg, std::string_view scheme, Lines& lines) {
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
void addCompression(const LegFindings& leg, Lines& lines) {
  const Grade* grade = leg.findings.find("compression-band", leg.side);
  if (grade != nullptr && !grade->present()) lines.push_back(grade->because);
}

/// A remark that a reader must not miss, and the names of the grades it was made on.
struct Doubt {
  std::string_view text;
  std::vector<std::string_view> on;
};

void addDoubt(std::vector<Doubt>& doubts, std::string_view text, std::string_view on) {
  auto found = std::find_if(doubts.begin(), doubts.end(),
                            [text](const Doubt& doubt) { return doubt.text == text; });
  if (found == doubts.end()) found = doubts.insert(found, {text, {}});
  if (std::find(found->on.begin(), found->on.end(), on) == found->on.end()) {
    found->on.push_back(on);
  }
}

/// By name where they are few; each grade says its doubts itself.
std::string gradesOf(const Doubt& doubt, std::size_t all) {
  constexpr std::size_t kNamed = 4;
  if (doubt.on.size() > kNamed) {
    return std::to_string(doubt.on.size()) + " of the " + std::to_string(all) +
           " grades of this leg";
  }
  std::string out;
  for (const std::string_view name : doubt.on) addTo(out, name);
  return out;
}

/// Classes of other rule sets are not told here, and stages have told their remarks themselves.
bool isTold(const LegFindings& leg, const Grade& grade) {
  if (grade.side != leg.side || grade.scheme == "fontaine" || grade.scheme == "rutherford") {
    return false;
  }
  return (grade.scheme != "abi-band" && grade.scheme != "tbi-band") || grade.ruleSet == leg.ruleSet;
}

/// What the rules call a warning among the remarks on the grades, each once.
void addDoubts(const LegFindings& leg, Lines& lines) {
  std::vector<Doubt> doubts;
  std::size_t all = 0;
  for (const Grade& grade : leg.findings.grades) {
    if (!isTold(leg, grade)) continue;
    ++all;
    for (const Remark& remark : grade.remarks) {
      if (remark.severity != Severity::Warning) continue;
      addDoubt(doubts, remark.text,
               isCriterion(grade) ? leg.tables.criterionName(grade.ruleSet)
                                  : schemeLabel(grade, leg.tables));
    }
  }
  for (const Doubt& doubt : doubts) {
    lines.push_back(std::string(doubt.text) + " (" + gradesOf(doubt, all) + ")");
  }
}

/// What was read, in the words of the reading, since an index alone hides what it was made of.
void addReadings(const LegFindings& leg, std::string_view title, Item first, Item last,
                 Lines& lines) {
  const std::string list = toldOf(leg.assessment, leg.tables, leg.side, first, last);
  if (!list.empty()) lines.push_back(std::string(title) + ": " + list + ".");
}

void addAllReadings(const LegFindings& leg, Lines& lines) {
  const auto& on = leg.assessment.previousOn;
  addReadings(leg, "Pulses and Doppler", Item::PulseFemoral, Item::DopplerAnteriorTibial, lines);
  addReadings(leg, "Pressures", Item::AnkleDorsalisPedis, Item::ExercisePosteriorTibial, lines);
  addReadings(leg, "Symptoms and foot", Item::RestPain, Item::InfectionDeep, lines);
  addReadings(leg, "Stated by the clinician", Item::StatedWound, Item::StatedRutherford, lines);
  addReadings(leg, "History of this leg", Item::HistoryRevascularisation, Item::HistoryAmputation,
              lines);
  addReadings(
      leg, "From an earlier assessment" + (on ? " of " + footbridge::spoken(*on) : std::string()),
      Item::PreviousAbi, Item::PreviousToePressure, lines);
}

}  // namespace

std::string classed(const LegFindings& leg, const Index& index, std::string_view scheme) {
  return spoken(index, leg.tables) + ", " +
         bandOfIndex(leg.findings.find(scheme, leg.side, leg.ruleSet));
}

std::string toldOf(const Assessment& assessment, const Tables& tables, Side side, Item first,
                   Item last) {
  std::string list;
  for (const Reading& reading : assessment.readings) {
    if (reading.side != side || reading.item < first || reading.item > last) continue;
    addTo(list, told(reading, tables));
  }
  return list;
}

std::string inShort(const LegFindings& leg) {
  std::string out;
  for (const auto& [kind, scheme] : kMainIndices) {
    const Index* index = leg.findings.find(kind, leg.side);
    const std::string label = beside({}, leg.tables.row(kind).label);
    const bool there = index != nullptr && index->present();
    addTo(out, there ? label + " " + classed(leg, *index, scheme) : "no " + label);
  }
  const Grade* stage = leg.findings.find("wifi-stage", leg.side);
  const bool staged = stage != nullptr && stage->present();
  if (staged || threatGraded(leg)) {
    addTo(out, "WIfI ", threat(leg.findings, leg.side),
          staged ? ", stage " + shortOutcome(*stage) : ", no stage",
          staged && has(stage->remarks, "grade-wifi-outside-population")
              ? " (outside the scheme's population)"
              : "");
  }
  const CriteriaCount count = cltiCriteria(leg.findings, leg.side);
  if (count.all > 0) {
    addTo(out, "pressure figures for limb-threatening ischaemia: ", std::to_string(count.reached),
          " of ", std::to_string(count.all), " reached, ", std::to_string(count.open),
          " cannot be settled");
  }
  return out;
}

std::vector<std::string> linesOf(const LegFindings& leg) {
  Lines out;
  for (const auto& [kind, scheme] : kMainIndices) addIndex(leg, kind, scheme, out);
  addThreat(leg, out);
  addCriteria(leg, out);
  addStages(leg, out);
  addFurther(leg, out);
  for (const std::string_view scheme :
       {"rutherford-criterion", "exercise-criterion", "change-criterion", "healing-criterion",
        "segment-criterion"}) {
    addFigures(leg, scheme, out);
  }
  addCompression(leg, out);
  addDoubts(leg, out);
  addAllReadings(leg, out);
  return out;
}

}  // namespace footbridge::package
