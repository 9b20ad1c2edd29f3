#include "json/outcome.hpp"

#include "core/text.hpp"
#include "json/writer.hpp"

namespace footbridge::json {
namespace {

/// The answer to every submission is made of these: written straight into the buffer.
void appendIssue(std::string& out, const Issue& issue) {
  out += '{';
  // Everything it says must be text that FHIR takes: no control character, never empty.
  appendMember(out, "severity", code(issue.severity));
  appendMember(out, "code", code(issue.type));
  out += R"(,"details":{)";
  if (!issue.rule.empty()) {
    out +=
        R"("coding":[{"system":"https://footbridge.example/fhir/CodeSystem/footbridge-rules","code":)";
    appendQuoted(out, issue.rule);
    out += "}]";
  }
  appendMember(out, "text", printable(issue.text));
  out += '}';
  appendMember(out, "diagnostics", printable(issue.mend));
  if (!issue.place.empty()) {
    out += R"(,"location":[)";
    appendQuoted(out, printable(issue.place));
    out += ']';
  }
  out += '}';
}

}  // namespace

std::string operationOutcome(const Issues& issues) {
  const Issues nothing{
      {Severity::Information, IssueType::Informational, "", "", "Nothing to remark.", ""}};
  std::string out = R"({"resourceType":"OperationOutcome","issue":[)";
  for (const Issue& issue : issues.empty() ? nothing : issues) {
    if (out.back() == '}') out += ',';
    appendIssue(out, issue);
  }
  return out += "]}";
}

}  // namespace footbridge::json
