#include "app/report.hpp"

#include <ostream>

#include "app/commands.hpp"
#include "core/text.hpp"

namespace footbridge::app {
namespace {

std::string counted(std::size_t count, std::string_view what) {
  return std::to_string(count) + " " + std::string(what) + (count == 1 ? "" : "s");
}

}  // namespace

void printIssue(std::ostream& out, const Issue& issue) {
  out << "  " << code(issue.severity) << ' '
      << (issue.place.empty() ? "(whole)" : printable(issue.place)) << ": " << printable(issue.text)
      << " [" << issue.rule << "]\n";
  if (!issue.mend.empty()) out << "    " << printable(issue.mend) << '\n';
}

void printVerdict(std::ostream& out, const Outcome& outcome) {
  const std::size_t errors =
      count(outcome.issues, Severity::Error) + count(outcome.issues, Severity::Fatal);
  const std::size_t warnings = count(outcome.issues, Severity::Warning);
  out << outcome.name << ": " << (outcome.refused() ? "set aside" : "accepted");
  if (errors > 0) out << ", " << counted(errors, "error");
  if (warnings > 0) out << ", " << counted(warnings, "warning");
  out << '\n';
}

void printOutcome(std::ostream& out, const Outcome& outcome) {
  printVerdict(out, outcome);
  for (const Issue& issue : outcome.issues) {
    if (issue.severity != Severity::Information) printIssue(out, issue);
  }
}

int finish(int code, std::ostream& out, std::ostream& err) {
  out.flush();
  if (out) return code;
  err << "Not all of the output could be written: the disk may be full, or what was to read it has "
         "ended. What is there is incomplete.\n";
  return kOwnFailure;
}

}  // namespace footbridge::app
