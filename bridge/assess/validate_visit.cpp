#include "assess/validate_visit.hpp"

#include <algorithm>
#include <cassert>

namespace footbridge::validation {
namespace {

bool otherThanNone(std::string_view word) { return !word.empty() && word != "none"; }

bool refused(const Limits& limits, Pressure pressure) {
  constexpr std::int64_t kTenthsInHalf = 5;
  const Decimal value{pressure.halves * kTenthsInHalf, 1};
  return pressure.halves <= 0 || (limits.rejectBelow && order(value, *limits.rejectBelow) < 0) ||
         (limits.rejectAbove && order(value, *limits.rejectAbove) > 0);
}

}  // namespace

bool observed(const Reading* reading) {
  return reading != nullptr && !std::holds_alternative<Absence>(reading->content);
}

bool affirmed(const Reading* reading) {
  const std::string_view word = chosenWord(reading);
  return word == "present" || word == "yes";
}

bool denied(const Reading* reading) {
  const std::string_view word = chosenWord(reading);
  return word == "absent" || word == "no";
}

std::optional<Pressure> Visit::pressure(Item item, Side side) const {
  const std::optional<Pressure> value = plainPressure(find(item, side));
  if (!value || refused(tables_.row(item).limits, *value)) return std::nullopt;
  return value;
}

bool Visit::observedAny(std::span<const Item> items, Side side) const {
  return std::any_of(items.begin(), items.end(),
                     [&](Item item) { return observed(find(item, side)); });
}

std::optional<Pressure> Visit::highestAnkle(Side side) const {
  std::optional<Pressure> highest;
  for (const Item item : kAnkleItems) highest = std::max(highest, pressure(item, side));
  return highest;
}

std::optional<Pressure> Visit::highestArm() const {
  return std::max(pressure(Item::ArmSystolic, Side::Right),
                  pressure(Item::ArmSystolic, Side::Left));
}

bool Visit::tissueLoss(Side side) const {
  return otherThanNone(word(Item::WoundDepth, side)) || otherThanNone(word(Item::Gangrene, side));
}

bool Visit::legAmputated(Side side) const {
  const std::string_view level = word(Item::HistoryAmputation, side);
  return level == "below-knee" || level == "above-knee";
}

std::int32_t Visit::figure(RowId rule, std::string_view name) const {
  const std::int32_t* const found = tables_.rule(rule).number(name);
  assert(found != nullptr);
  return *found;
}

void Visit::remark(RowId rule, Item item, Side side, Arguments arguments) {
  remarkAt(rule, tables_.place(item, side), arguments);
}

void Visit::remarkAt(RowId rule, std::string place, Arguments arguments) {
  issues_.push_back(issue(tables_.rule(rule), std::move(place), arguments));
}

}  // namespace footbridge::validation
