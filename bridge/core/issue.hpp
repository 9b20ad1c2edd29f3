#pragma once
// What Footbridge has to say about its input, shaped as FHIR's OperationOutcome.issue so that it
// can be printed as one without a second mapping (hl7.org/fhir/R4/operationoutcome.html).

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace footbridge {

/// FHIR issue-severity. Error: the assessment is refused. Warning: it goes on and carries the
/// remark. Information: kept for the receipt. Fatal: the program itself could not do its work.
enum class Severity : std::uint8_t { Information, Warning, Error, Fatal };

/// The part of FHIR issue-type (R4) that Footbridge uses.
enum class IssueType : std::uint8_t {
  Structure,
  Required,
  Value,
  Invariant,
  CodeInvalid,
  BusinessRule,
  Duplicate,
  NotSupported,
  TooLong,
  NotFound,
  Incomplete,
  Informational,
  NoStore,
  Transient,
  Exception,
  Security,  ///< who asks is not known, or may not
  Throttled  ///< too much at once
};

std::string_view code(Severity severity);
std::string_view code(IssueType type);

/// One remark. `rule` is the id of a row of mapping/rules.json, `place` a JSON Pointer (RFC 6901)
/// into the input ("" is the whole of it), `mend` what the sender can do about it.
struct Issue {
  Severity severity = Severity::Error;
  IssueType type = IssueType::Value;
  std::string rule;
  std::string place;
  std::string text;
  std::string mend;

  bool operator==(const Issue&) const = default;
};

using Issues = std::vector<Issue>;

/// True if one of them is an error or worse: the assessment must not go on.
bool blocking(const Issues& issues);

/// Adds all of `more` at the end of `issues`.
void append(Issues& issues, Issues more);

/// How many have just this severity.
std::size_t count(const Issues& issues, Severity severity);

}  // namespace footbridge
