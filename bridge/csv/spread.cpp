#include "csv/spread.hpp"

#include <algorithm>

#include "core/text.hpp"
#include "core/time.hpp"

namespace footbridge::csv {
namespace {

using std::chrono::sys_days;
using std::chrono::sys_seconds;

constexpr std::size_t kDay = 10;  ///< "2026-10-05"

/// The moments that a stamp may stand for.
struct Span {
  sys_seconds from;
  sys_seconds to;
  const Timed* said = nullptr;
};

/// With an offset, or by the clock of the map.
std::optional<Instant> momentOf(std::string_view stamp, const SourceMap& map) {
  if (const std::optional<Instant> whole = parseInstant(stamp)) return whole;
  const std::optional<Date> date = parseDate(stamp.substr(0, kDay));
  if (!date || stamp.size() <= kDay + 1 || !map.zone) return std::nullopt;
  const std::optional<std::int32_t> second = readTime(stamp.substr(kDay + 1));
  return second ? std::optional{map.zone->at(*date, *second).first} : std::nullopt;
}

/// Nothing where it is no time; a day is one under that offset.
std::optional<Span> spanOf(const Timed& said, const SourceMap& map, std::chrono::minutes offset) {
  if (const std::optional<Instant> moment = momentOf(said.stamp, map)) {
    return Span{moment->utc, moment->utc, &said};
  }
  const std::optional<Date> date = parseDate(std::string_view(said.stamp).substr(0, kDay));
  if (!date) return std::nullopt;
  const sys_seconds begin = sys_days{*date} - offset;
  return Span{begin, begin + std::chrono::days{1}, &said};
}

/// That of the first moment.
std::chrono::minutes offsetOf(const std::vector<Timed>& times, const SourceMap& map) {
  for (const Timed& said : times) {
    if (const std::optional<Instant> moment = momentOf(said.stamp, map)) {
      return std::chrono::minutes{moment->offsetMinutes};
    }
  }
  return {};
}

std::string shown(const Timed& said) { return printable(shortened(said.stamp, 40)); }

}  // namespace

std::optional<Issue> spreadOf(const std::vector<Timed>& times, const SourceMap& map,
                              const SpreadRules& rules, const Tables& tables) {
  const std::chrono::minutes offset = offsetOf(times, map);
  std::vector<Span> spans;
  for (const Timed& said : times) {
    const std::optional<Span> span = spanOf(said, map, offset);
    if (!span) return issue(tables.rule(rules.unread), said.place, {{"value", shown(said)}});
    spans.push_back(*span);
  }
  if (spans.empty()) return std::nullopt;
  const auto first = std::min_element(spans.begin(), spans.end(),
                                      [](const Span& a, const Span& b) { return a.to < b.to; });
  const auto last = std::max_element(spans.begin(), spans.end(),
                                     [](const Span& a, const Span& b) { return a.from < b.from; });
  if (last->from <= first->to) return std::nullopt;
  const bool apart = last->from - first->to > kVisitSpan;
  return issue(tables.rule(apart ? rules.apart : rules.differ), last->said->place,
               {{"hours", std::to_string(kVisitSpan.count())},
                {"first", shown(*first->said)},
                {"other", first->said->place},
                {"last", shown(*last->said)}});
}

}  // namespace footbridge::csv
