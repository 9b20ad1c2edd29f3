#include "assess/answers.hpp"

#include <algorithm>

namespace footbridge::assess {
namespace {

/// Half millimetres as tenths, to compare both kinds of number in one way.
std::optional<Decimal> number(const Reading* reading) {
  if (reading == nullptr) return std::nullopt;
  if (const auto* value = std::get_if<Decimal>(&reading->content)) return *value;
  if (const auto* pressure = std::get_if<Pressure>(&reading->content)) {
    return Decimal{std::int64_t{pressure->halves} * 5, 1};
  }
  return std::nullopt;
}

Answer yesOrNo(bool yes) { return yes ? Answer::Yes : Answer::No; }
Answer yesOrUnknown(bool yes) { return yes ? Answer::Yes : Answer::Unknown; }
Answer noOrUnknown(bool no) { return no ? Answer::No : Answer::Unknown; }

std::int32_t whole(const Decimal& value) { return static_cast<std::int32_t>(value.floor()); }

/// The highest whole number under a bound that is itself not reached: 39 for 40 and for 39.5.
std::int32_t wholeUnder(const Decimal& bound) {
  return bound.whole() ? whole(bound) - 1 : whole(bound);
}

}  // namespace

Answer above(const Reading* reading, const Decimal& bound) {
  const auto value = number(reading);
  if (!value) return Answer::Unknown;
  const auto place = order(*value, bound);
  switch (reading->comparator) {
    case Comparator::None:
      return yesOrNo(place > 0);
    case Comparator::Greater:
      return yesOrUnknown(place >= 0);
    case Comparator::GreaterOrEqual:
      return yesOrUnknown(place > 0);
    case Comparator::Less:
    case Comparator::LessOrEqual:
      return noOrUnknown(place <= 0);
  }
  return Answer::Unknown;
}

Answer atLeast(const Reading* reading, const Decimal& bound) {
  const auto value = number(reading);
  if (!value) return Answer::Unknown;
  const auto place = order(*value, bound);
  switch (reading->comparator) {
    case Comparator::None:
      return yesOrNo(place >= 0);
    case Comparator::Greater:
    case Comparator::GreaterOrEqual:
      return yesOrUnknown(place >= 0);
    case Comparator::Less:
      return noOrUnknown(place <= 0);
    case Comparator::LessOrEqual:
      return noOrUnknown(place < 0);
  }
  return Answer::Unknown;
}

Answer below(const Reading* reading, const Decimal& bound) {
  return opposite(atLeast(reading, bound));
}

Answer outside(const Reading* reading, const Decimal& low, const Decimal& high) {
  const Answer under = below(reading, low);
  const Answer over = above(reading, high);
  if (under == Answer::Yes || over == Answer::Yes) return Answer::Yes;
  return noOrUnknown(under == Answer::No && over == Answer::No);
}

Answer opposite(Answer answer) {
  if (answer == Answer::Unknown) return answer;
  return yesOrNo(answer == Answer::No);
}

Answer either(Answer first, Answer second) {
  if (first == Answer::Yes || second == Answer::Yes) return Answer::Yes;
  return noOrUnknown(first == Answer::No || second == Answer::No);
}

bool allBelow(const Span& span, std::int32_t bound) {
  return span.highest && *span.highest < bound;
}

bool allAbove(const Span& span, std::int32_t bound) { return span.lowest > bound; }

std::optional<Span> spanOf(const Reading* reading) {
  const auto value = number(reading);
  if (!value) return std::nullopt;
  switch (reading->comparator) {
    case Comparator::None:
      return Span{whole(*value), whole(*value)};
    case Comparator::Less:
      return Span{0, std::max(0, wholeUnder(*value)), value->whole()};
    case Comparator::LessOrEqual:
      return Span{0, whole(*value)};
    case Comparator::GreaterOrEqual:
    case Comparator::Greater:
      return Span{whole(*value), std::nullopt};
  }
  return std::nullopt;
}

std::string mmhgText(const Span& span) {
  const std::string lowest = std::to_string(span.lowest);
  if (!span.highest) return lowest + " mmHg or more";
  std::string highest = std::to_string(*span.highest) + " mmHg";
  if (span.lowest == *span.highest && !span.under) return highest;
  if (span.lowest != 0) return lowest + " to " + highest;
  return span.under ? "below " + std::to_string(*span.highest + 1) + " mmHg" : highest + " or less";
}

}  // namespace footbridge::assess
