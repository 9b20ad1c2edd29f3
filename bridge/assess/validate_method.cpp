// How the pressures were taken, as far as a reader of the indices has to know it.

#include <algorithm>
#include <array>

#include "assess/validate_visit.hpp"

namespace footbridge::validation {
namespace {

/// A reading that a cuff gave.
bool byCuff(const Reading& reading) {
  return std::holds_alternative<Pressure>(reading.content) ||
         std::holds_alternative<Incompressible>(reading.content);
}

void checkRest(Visit& visit) {
  const auto minutes = plainNumber(visit.find(Item::RestMinutes));
  if (!observed(visit.find(Item::RestMinutes))) {
    visit.remark("rest-minutes-missing", Item::RestMinutes, Side::None);
  }
  if (!minutes) return;
  const std::int32_t bound = visit.figure("rest-minutes-short", "below");
  if (order(*minutes, Decimal{bound, 0}) >= 0) return;
  visit.remark("rest-minutes-short", Item::RestMinutes, Side::None,
               {{"value", minutes->text()}, {"bound", std::to_string(bound)}});
}

void checkConditions(Visit& visit) {
  const auto& readings = visit.assessment().readings;
  if (std::none_of(readings.begin(), readings.end(), byCuff)) return;
  if (!observed(visit.find(Item::Posture))) {
    visit.remark("posture-missing", Item::Posture, Side::None);
  }
  checkRest(visit);
  if (!observed(visit.find(Item::PressureMethod))) {
    visit.remark("pressure-method-missing", Item::PressureMethod, Side::None);
  }
}

struct ToeDetail {
  Item item{};
  std::string_view missing;
};

constexpr std::array kToeDetails{ToeDetail{Item::ToeDigit, "toe-digit-missing"},
                                 ToeDetail{Item::ToeSensor, "toe-sensor-missing"}};

void checkToeDetails(Visit& visit, Side side) {
  const bool pressure = observed(visit.find(Item::ToePressure, side));
  for (const ToeDetail& detail : kToeDetails) {
    const bool said = observed(visit.find(detail.item, side));
    if (said == pressure) continue;
    const std::string_view rule = pressure ? detail.missing : "toe-detail-without-pressure";
    visit.remark(rule, detail.item, side,
                 {{"reading", visit.naming(pressure ? Item::ToePressure : detail.item, side)}});
  }
}

void checkCapillaryRefill(Visit& visit, Side side) {
  if (!observed(visit.find(Item::CapillaryRefill, side))) return;
  visit.remark("capillary-refill-not-graded", Item::CapillaryRefill, side,
               {{"reading", visit.naming(Item::CapillaryRefill, side)}});
}

}  // namespace

void checkMethod(Visit& visit) {
  checkConditions(visit);
  for (const Side side : kSides) {
    checkToeDetails(visit, side);
    checkCapillaryRefill(visit, side);
  }
}

}  // namespace footbridge::validation
