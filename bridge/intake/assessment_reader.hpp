#pragma once
// JSON bytes to Assessment. What is read where stands in mapping/items.json; this walks it.

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "core/issue.hpp"
#include "model/assessment.hpp"
#include "tables/tables.hpp"

namespace footbridge::intake {

/// What came of one text. With an error among the issues the assessment holds what could be read,
/// so that the other rules can be held against it too; it must not go on.
struct Intake {
  Assessment assessment;
  Issues issues;
  bool headRead = false;  ///< the head (identifier to organisation) was read without an error
};

/// Reads assessments in the format of schemas/assessment.schema.json. Immutable; shared by threads.
class AssessmentReader {
 public:
  explicit AssessmentReader(const Tables& tables);
  ~AssessmentReader();
  AssessmentReader(const AssessmentReader&) = delete;
  AssessmentReader& operator=(const AssessmentReader&) = delete;

  Intake read(std::string_view bytes) const;

 private:
  struct Shape;
  const Tables& tables_;
  std::unique_ptr<const Shape> shape_;
  std::vector<std::string> names_;  ///< that the whole may have
};

}  // namespace footbridge::intake
