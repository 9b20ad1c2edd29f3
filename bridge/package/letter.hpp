#pragma once
// The assessment as a page for a person to read, print or send: HTML that asks nothing of anyone.

#include <string>
#include <string_view>

#include "core/issue.hpp"
#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge::package {

/// What the page says of how it was made.
struct LetterOptions {
  std::string ruleSet = "acc-aha-2024";  ///< classes the indices
  std::string version;                   ///< of the program
};

/// Begins and ends a document, whose letters stand between, each on a page of its own when printed.
std::string lettersBegin();
std::string lettersEnd();

/// One letter: status and patient, both legs in short and the flags, a table of pressures and
/// indices with "not recorded" where nothing was, then everything that the report says. Of an
/// assessment that is withdrawn only that it is, the note and the cautions.
std::string letterOf(const Assessment& assessment, const Findings& findings, const Issues& issues,
                     const Tables& tables, const LetterOptions& options);

}  // namespace footbridge::package
