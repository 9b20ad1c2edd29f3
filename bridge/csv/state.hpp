#pragma once
// What the states of a report and of its results make of an assessment, in the letters of HL7
// tables 0123 and 0085: the one rule for all senders that give states.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "core/time.hpp"
#include "csv/source_map.hpp"

namespace footbridge::csv {

struct State {
  std::string_view status;  ///< of the input format
  bool withdrawn = false;   ///< the whole: readings are not looked at
  bool changed = false;     ///< it corrects an earlier one as a whole
  bool timed = false;       ///< its revision is told by time
};

/// True for a status of a report that can be filed: one letter of F C P R X.
bool filed(std::string_view report);

/// `reports` has a letter that is filed() for each report, order or panel that the assessment is
/// made of, of which the most careful one counts; nothing is returned if there is none or another.
/// `results` has one of F C A P D W X N for each result.
std::optional<State> stateOf(std::string_view reports, std::string_view results,
                             Revisions revisions);

/// A revision that is larger the later a result changed, in seconds since 2020, so that nothing
/// needs to be remembered. Nothing for moments before.
std::optional<std::string> revisionAt(const Instant& moment);

}  // namespace footbridge::csv
