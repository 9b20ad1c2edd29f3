#pragma once
// The language of the tables in tests/cases that drive deriveIndices, gradeFindings and raiseFlags.
//
// A line has four columns: a name that reads as a sentence, the readings, what is expected, and the
// source. Readings and expectations are separated by blanks.
//
//   R:ankle.dorsalis-pedis=98      a reading of the right side; without "R:" or "L:" it has no side
//   =98.5  =<40  =>=250            number, or number with comparator
//   =repeats:158,146               several readings, settled as intake settles them
//   =incompressible:300  =incompressible  =no-signal  =absent:not-performed  =monophasic
//
//   R:abi=0.88  inter-arm-difference=12      value of an index
//   R:abi=-  R:abi=-not-applicable           none, and why
//   R:abi-band/acc-aha-2024=abi-abnormal     class by a rule set; "=-" for none
//   R:waveform-class/doppler.femoral=...     class of one Doppler reading
//   R:wifi-stage+grade-wifi-cell  R:abi!derive-one-arm    has, or has not, a remark of that rule
//   R:wifi-ischaemia@wifi.ischaemia.toe.2    the row that decided
//   R:abi-band/acc-aha-2024?derive-one-arm   the reason holds the beginning of that rule's sentence
//   flag-inter-arm-10  !flag-inter-arm-15    a flag is raised, or is not
//   R:flag-incompressible                    ... on that side

#include <ostream>
#include <string>
#include <string_view>
#include <vector>

#include "assess/assess.hpp"
#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge::findings_test {

/// The tables of the source tree, loaded once.
const Tables& mapping();

struct Case {
  std::string name;
  std::string readings;
  std::string expected;
  std::string source;
};

std::ostream& operator<<(std::ostream& out, const Case& value);

/// The rows of a file, without its heading. The first line says how many rows there must be.
std::vector<std::vector<std::string>> rowsOf(std::string_view file, std::size_t columns);

/// The cases of a file of four columns.
std::vector<Case> casesOf(std::string_view file);

/// An otherwise empty assessment with the readings.
Assessment assessmentOf(std::string_view readings);

/// Everything that findOut() makes of them.
Findings findingsOf(std::string_view readings);

/// Holds the findings against the expectations.
void check(const Case& line);

/// Everything said in some findings: remarks, reasons, methods, flags.
std::vector<std::string> sentencesOf(const Findings& findings);

/// The name without what GoogleTest does not allow in one.
std::string testName(std::string_view sentence);

/// Names a test after its case.
struct ByName {
  template <class Info>
  std::string operator()(const Info& info) const {
    return testName(info.param.name);
  }
};

std::vector<std::string> split(std::string_view text, char separator);

}  // namespace footbridge::findings_test
