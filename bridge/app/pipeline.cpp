#include "app/pipeline.hpp"

#include <algorithm>

#include "assess/assess.hpp"
#include "assess/derive.hpp"
#include "assess/validate.hpp"
#include "core/digest.hpp"

namespace footbridge::app {
namespace {

/// Beside errors of the input's form, only those remarks of validation are worth hearing that stay
/// true whatever the unreadable part turns out to be: other errors, and not that something is
/// missing.
Issues errorsOnly(Issues issues) {
  std::erase_if(issues, [](const Issue& issue) {
    return issue.severity < Severity::Error || issue.type == IssueType::Required;
  });
  return issues;
}

}  // namespace

Pipeline::Pipeline(const Tables& tables, const Instant& now, const Earlier* earlier)
    : tables_(tables), now_(now), earlier_(earlier), reader_(tables) {}

Outcome Pipeline::run(const intake::Text& text, const Instant& now) const {
  Outcome out = judge(text, now);
  complete(out);
  return out;
}

void Pipeline::complete(Outcome& outcome) const {
  if (!outcome.refused()) footbridge::complete(outcome.findings, outcome.assessment, tables_);
}

Outcome Pipeline::judge(const intake::Text& text, const Instant& now) const {
  Outcome out;
  out.name = text.name;
  out.issues = text.issues;
  if (out.refused() && (!text.original || text.bytes.empty())) return out;
  intake::Intake intake = reader_.read(text.bytes);
  out.assessment = std::move(intake.assessment);
  append(out.issues,
         out.refused() ? errorsOnly(std::move(intake.issues)) : std::move(intake.issues));
  if (text.original) out.assessment.sourceDigest = sha256(text.original->rows);
  if (!intake.headRead) return out;
  if (earlier_ != nullptr) earlier_->complete(out.assessment, out.issues);
  const bool broken = out.refused();
  Issues remarks = validate(out.assessment, now, tables_);
  append(out.issues, broken ? errorsOnly(std::move(remarks)) : std::move(remarks));
  if (out.refused()) return out;
  out.findings.indices = deriveIndices(out.assessment, tables_);
  append(out.issues, validateIndices(out.findings.indices, out.assessment, tables_));
  return out;
}

}  // namespace footbridge::app
