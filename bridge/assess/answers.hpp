#pragma once
// Whether a reading lies beyond a bound. A reading with a comparator stands for a whole interval
// and answers only if all of the interval lies on one side; a reading that is not there never
// answers.

#include <cstdint>
#include <optional>

#include "model/assessment.hpp"

namespace footbridge::assess {

enum class Answer : std::uint8_t { No, Yes, Unknown };

/// A comparator of a bound, strict or not: above(x, 14) is x > 14, atLeast(x, 14) is x >= 14.
Answer above(const Reading* reading, const Decimal& bound);
Answer atLeast(const Reading* reading, const Decimal& bound);

/// x < bound.
Answer below(const Reading* reading, const Decimal& bound);

/// Below `low` or above `high`: two bounds of one reading.
Answer outside(const Reading* reading, const Decimal& low, const Decimal& high);

Answer opposite(Answer answer);

/// Yes if one is yes, no if one is no and none is yes: two ways to take the same sign, of which
/// the second is not missed where the first was taken.
Answer either(Answer first, Answer second);

/// Whole units from `lowest` to `highest`, both included; without `highest` there is no upper end.
struct Span {
  std::int32_t lowest = 0;
  std::optional<std::int32_t> highest{};
  bool under = false;  ///< sent as below the whole number after `highest`

  bool operator==(const Span&) const = default;
};

/// All of the span is below the bound; all of it is above.
bool allBelow(const Span& span, std::int32_t bound);
bool allAbove(const Span& span, std::int32_t bound);

/// What a reading says in whole units of its own. Halves are floored, which is towards worse for
/// every threshold in use. Nothing for a finding, an absence or a word.
std::optional<Span> spanOf(const Reading* reading);

/// "28 mmHg", "below 40 mmHg", "39 mmHg or less", "60 mmHg or more", "30 to 39 mmHg".
std::string mmhgText(const Span& span);

}  // namespace footbridge::assess
