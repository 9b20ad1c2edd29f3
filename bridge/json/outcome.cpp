#include "json/outcome.hpp"

#include "core/text.hpp"
#include "json/writer.hpp"

namespace footbridge::json {
namespace {

/// Everything the outcome says must be text that FHIR takes: no control character, never empty.
void appendIssue(Writer& out, const Issue& issue) {
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

std::string operationOutcome(const Issues& issues) {
  Writer out;
  out.beginObject().member("resourceType", "OperationOutcome").name("issue").beginArray();
  for (const Issue& issue : issues) appendIssue(out, issue);
  if (issues.empty()) {
    appendIssue(
        out, {Severity::Information, IssueType::Informational, "", "", "Nothing to remark.", ""});
  }
  out.endArray().endObject();
  return std::string(out.text());
}

}  // namespace footbridge::json
