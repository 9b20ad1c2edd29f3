#include "app/report.hpp"

#include <ostream>

#include "core/text.hpp"
#include "json/writer.hpp"

namespace footbridge::app {
namespace {

std::string counted(std::size_t count, std::string_view what) {
  return std::to_string(count) + " " + std::string(what) + (count == 1 ? "" : "s");
}

/// Everything the outcome says must be text that FHIR takes: no control character, never empty.
void appendIssue(json::Writer& out, const Issue& issue) {
  out.beginObject().member("severity", code(issue.severity)).member("code", code(issue.type));
  out.name("details").beginObject();
  if (!issue.rule.empty()) {
    out.name("coding").beginArray().beginObject();
    out.member("system", "https://footbridge.example/fhir/CodeSystem/footbridge-rules");
    out.member("code", issue.rule).endObject().endArray();
  }
  out.member("text", printable(issue.text)).endObject();
  out.member("diagnostics", printable(issue.mend));
  if (!issue.place.empty()) {
    out.name("location").beginArray().string(printable(issue.place)).endArray();
  }
  out.endObject();
}

}  // namespace

void printIssue(std::ostream& out, const Issue& issue) {
  out << "  " << code(issue.severity) << ' '
      << (issue.place.empty() ? "(whole)" : printable(issue.place)) << ": " << printable(issue.text)
      << " [" << issue.rule << "]\n";
  if (!issue.mend.empty()) out << "    " << printable(issue.mend) << '\n';
}

std::string operationOutcome(const Issues& issues) {
  json::Writer out;
  out.beginObject().member("resourceType", "OperationOutcome").name("issue").beginArray();
  for (const Issue& issue : issues) appendIssue(out, issue);
  if (issues.empty()) {
    appendIssue(
        out, {Severity::Information, IssueType::Informational, "", "", "Nothing to remark.", ""});
  }
  out.endArray().endObject();
  return std::string(out.text());
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

}  // namespace footbridge::app
