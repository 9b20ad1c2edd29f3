#include "package/summary.hpp"

#include <algorithm>
#include <ostream>

#include "app/commands.hpp"
#include "app/inputs.hpp"
#include "app/report.hpp"
#include "core/text.hpp"
#include "package/wording.hpp"

namespace footbridge::app {
namespace {

std::string padded(std::string text, std::size_t width) {
  text.resize(std::max(width, text.size()), ' ');
  return text;
}

/// "0.79 abnormal", or "none".
std::string cell(const Outcome& outcome, IndexKind kind, std::string_view scheme, Side side,
                 std::string_view ruleSet) {
  const Index* index = outcome.findings.find(kind, side);
  if (index == nullptr || !index->hundredths) return "none";
  const Grade* grade = outcome.findings.find(scheme, side, ruleSet);
  return hundredthsText(*index->hundredths) + " " + package::bandOfIndex(grade);
}

/// "1-2-1 stage 3".
std::string threat(const Outcome& outcome, Side side) {
  const std::string out = package::threat(outcome.findings, side);
  const Grade* stage = outcome.findings.find("wifi-stage", side);
  return out + (stage != nullptr && stage->present() ? " stage " + package::shortOutcome(*stage)
                                                     : " no stage");
}

std::string criteria(const Outcome& outcome, Side side) {
  const package::CriteriaCount count = package::cltiCriteria(outcome.findings, side);
  return std::to_string(count.reached) + " of " + std::to_string(count.all) + " reached, " +
         std::to_string(count.open) + " open";
}

/// The reasons why an index or the stage is missing, each once.
std::vector<std::string> reasons(const Outcome& outcome, Side side) {
  std::vector<std::string> out;
  const auto add = [&out](const std::string& text) {
    if (!text.empty() && std::find(out.begin(), out.end(), text) == out.end()) out.push_back(text);
  };
  for (const IndexKind kind : {IndexKind::Abi, IndexKind::Tbi}) {
    const Index* index = outcome.findings.find(kind, side);
    if (index != nullptr && !index->present()) add(index->because);
  }
  for (const std::string_view scheme : {"wifi-wound", "wifi-ischaemia", "wifi-infection"}) {
    const Grade* grade = outcome.findings.find(scheme, side);
    if (grade != nullptr && !grade->present()) add(grade->because);
  }
  return out;
}

void printAssessment(std::ostream& out, const Outcome& outcome, const std::string& ruleSet) {
  out << printable(package::nameOf(outcome.assessment.patient, "(no family name)")) << ", "
      << spoken(outcome.assessment.measuredAt)
      << (outcome.assessment.status == Status::Final
              ? ""
              : ", " + std::string(word(outcome.assessment.status)))
      << "  [" << outcome.name << "]\n";
  for (const Side side : kSides) {
    if (!package::examined(outcome.assessment, side)) {
      out << "  " << padded(std::string(word(side)), 6) << " nothing was recorded\n";
      continue;
    }
    out << "  " << padded(std::string(word(side)), 6) << " ABI "
        << padded(cell(outcome, IndexKind::Abi, "abi-band", side, ruleSet), 20) << " TBI "
        << padded(cell(outcome, IndexKind::Tbi, "tbi-band", side, ruleSet), 16) << " WIfI "
        << padded(threat(outcome, side), 16) << " CLTI pressure figures " << criteria(outcome, side)
        << '\n';
    for (const std::string& reason : reasons(outcome, side)) out << "         " << reason << '\n';
  }
  for (const Flag& flag : outcome.findings.flags) {
    out << "  flag   " << package::spoken(flag) << '\n';
  }
}

}  // namespace

int summary(const SummaryOptions& options, World& world) {
  const Tally tally = forEachOutcome(options.input, world, [&](const Done& done) {
    const Outcome& outcome = done.outcome;
    if (!outcome.refused()) return printAssessment(world.out, outcome, options.ruleSet);
    printVerdict(world.out, outcome);
    for (const Issue& issue : outcome.issues) {
      if (issue.severity >= Severity::Error) printIssue(world.out, issue);
    }
  });
  world.out << "Index classes by " << options.ruleSet
            << "; WIfI as wound-ischaemia-infection, ? where it cannot be graded\n";
  for (const std::string& line : package::cautions()) world.out << line << '\n';
  return tally.exitCode();
}

}  // namespace footbridge::app
