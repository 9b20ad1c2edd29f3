#pragma once
// The way of one assessment through all stages. Reading pipeline.cpp is knowing the program.

#include <optional>
#include <string>

#include "app/earlier.hpp"
#include "core/issue.hpp"
#include "core/time.hpp"
#include "intake/assessment_reader.hpp"
#include "intake/texts.hpp"
#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "package/bundle.hpp"
#include "tables/tables.hpp"

namespace footbridge::app {

/// What became of one text.
struct Outcome {
  std::string name;
  Assessment assessment;
  Findings findings;
  Issues issues;

  /// True if it was set aside: an error stands among the issues.
  bool refused() const { return blocking(issues); }
};

/// The stages with what they need. One a thread.
class Pipeline {
 public:
  /// `earlier`, if given, brings figures to compare with.
  Pipeline(const Tables& tables, const Instant& now, const Earlier* earlier = nullptr);

  /// Intake, validation, derivation, grading: everything but the bundle.
  Outcome run(const intake::Text& text) const { return run(text, now_); }

  /// The same at a moment of its own, for a program that runs on.
  Outcome run(const intake::Text& text, const Instant& now) const;

  /// The first part of run(): all issues, and of the findings only the indices, which some of the
  /// issues are about. What is accepted lacks grades and flags until complete().
  Outcome judge(const intake::Text& text, const Instant& now) const;
  void complete(Outcome& outcome) const;

 private:
  const Tables& tables_;
  Instant now_;
  const Earlier* earlier_;
  intake::AssessmentReader reader_;
};

}  // namespace footbridge::app
