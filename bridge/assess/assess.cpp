#include "assess/assess.hpp"

#include "assess/derive.hpp"
#include "assess/flags.hpp"
#include "assess/grade.hpp"

namespace footbridge {

Findings findOut(const Assessment& assessment, const Tables& tables) {
  Findings findings;
  findings.indices = deriveIndices(assessment, tables);
  complete(findings, assessment, tables);
  return findings;
}

void complete(Findings& findings, const Assessment& assessment, const Tables& tables) {
  findings.grades = gradeFindings(assessment, findings.indices, tables);
  findings.flags = raiseFlags(assessment, findings.indices, tables);
}

}  // namespace footbridge
