#pragma once
// An assessment as rows of one flat table: coded, without names, notes or narrative.

#include <array>
#include <string>
#include <string_view>
#include <vector>

#include "app/pipeline.hpp"
#include "core/seal.hpp"
#include "tables/tables.hpp"

namespace footbridge::app {

/// The columns, in order. Every cell is text as it is to be read: figures keep their digits.
///
/// visit, patient: keyed pseudonyms, 32 hexadecimal digits, equal for equal identifiers under one
/// key. measured: the day in the clinic. kind: reading, index, grade or flag. code: of our own
/// CodeSystem; loinc, snomed: where a verified one exists. side: right, left or empty. site,
/// method: where and how it was measured, as codes of ours. comparator, value, unit: figures with
/// their UCUM unit. answer: the code of a finding, word or class. absent: the FHIR
/// data-absent-reason, where there is neither. rule_set: the rule set of a grade, the rule of a
/// flag, the scale of a graded pulse.
inline constexpr std::array<std::string_view, 18> kColumns{
    "visit", "patient", "measured", "status",     "kind",  "code", "label",  "loinc",  "snomed",
    "side",  "site",    "method",   "comparator", "value", "unit", "answer", "absent", "rule_set"};

using CodedRow = std::array<std::string, kColumns.size()>;

/// Makes rows of outcomes that were not refused.
class RowMaker {
 public:
  /// Both have to outlive it. The key of `sealer` makes the pseudonyms.
  RowMaker(const Tables& tables, const Sealer& sealer) : tables_(tables), sealer_(sealer) {}

  /// Readings, then indices, grades (of every rule set) and flags, in the order of the findings. A
  /// leg of which nothing was recorded has no rows.
  std::vector<CodedRow> rowsOf(const Outcome& outcome) const;

 private:
  const Tables& tables_;
  const Sealer& sealer_;
};

}  // namespace footbridge::app
