#pragma once
// Whether what a sender gives as one assessment was measured in one visit: the one rule for all
// senders that give times of single readings.

#include <chrono>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/issue.hpp"
#include "csv/source_map.hpp"

namespace footbridge::csv {

/// Readings further apart than this are not of one visit (our choice: a day in a clinic is shorter,
/// and yesterday's readings are further away).
inline constexpr std::chrono::hours kVisitSpan{12};

/// When something was measured, as an assessment writes it ("2026-10-05T10:20:00+01:00", or a day
/// alone), and where it says so.
struct Timed {
  std::string stamp;
  std::string place;
};

/// The rules of one kind of sender.
struct SpreadRules {
  std::string_view apart;   ///< they cannot be of one visit
  std::string_view differ;  ///< they differ, and may be
  std::string_view unread;  ///< one of them is no time
};

/// What is to be said of the times of one assessment, if anything is. A time without an offset is
/// read by the clock of the map, without one as its day; a day counts as all of it.
std::optional<Issue> spreadOf(const std::vector<Timed>& times, const SourceMap& map,
                              const SpreadRules& rules, const Tables& tables);

}  // namespace footbridge::csv
