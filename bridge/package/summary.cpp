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
  if (grade == nullptr) return out + ", no class stated by this source" + source;
  return out + ", " + shortOutcome(*grade) + source;
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
       {"wifi-revascularisation-benefit", "; benefit of revascularisation "}}};
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

/// Which definitions' pressure criteria are met, and which cannot be settled.
void addCriteria(const Leg& leg, std::vector<std::string>& lines) {
  std::string met;
  std::string open;
  for (const Grade& grade : leg.findings.grades) {
    if (grade.scheme != "clti-criterion" || grade.side != leg.side) continue;
    const auto definition = std::find_if(leg.tables.clti.begin(), leg.tables.clti.end(),
                                         [&](const auto& row) { return row.id == grade.ruleSet; });
    const std::string name = definition == leg.tables.clti.end() ? "" : definition->name;
    if (grade.outcome == "criterion-met") met += (met.empty() ? "" : "; ") + name;
    if (!grade.present() || grade.outcome == "criterion-cannot-say") {
      open += (open.empty() ? "" : "; ") + name;
    }
  }
  if (!met.empty()) {
    lines.push_back("Meets the published pressure criterion of: " + met +
                    ". Whether the clinical condition holds is for the clinician.");
  }
  if (!open.empty())
    lines.push_back("Criterion cannot be settled from what was read: " + open + ".");
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
  out.lines.push_back(indexLine(leg, IndexKind::Abi, "abi-band"));
  out.lines.push_back(indexLine(leg, IndexKind::Tbi, "tbi-band"));
  addThreat(leg, out.lines);
  addCriteria(leg, out.lines);
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
