// Dates against each other and against the clock that the caller passed in.

#include <chrono>

#include "assess/validate_visit.hpp"

namespace footbridge::validation {
namespace {

using std::chrono::days;
using std::chrono::minutes;
using std::chrono::years;

/// Clocks of different machines differ a little; a few minutes ahead is not the future.
bool inFuture(const Visit& visit, const Instant& moment, RowId rule) {
  return moment.utc > visit.now().utc + minutes{visit.figure(rule, "minutes")};
}

void checkMeasured(Visit& visit) {
  const Instant& measured = visit.assessment().measuredAt;
  if (inFuture(visit, measured, "measured-in-future")) {
    return visit.remarkAt("measured-in-future", "/measuredAt",
                          {{"measured", spoken(measured)}, {"now", spoken(visit.now())}});
  }
  const std::int32_t bound = visit.figure("measured-long-ago", "days");
  if (visit.now().utc - measured.utc <= days{bound}) return;
  visit.remarkAt("measured-long-ago", "/measuredAt",
                 {{"measured", spoken(measured)}, {"bound", std::to_string(bound)}});
}

void checkIssued(Visit& visit) {
  const Assessment& assessment = visit.assessment();
  if (!assessment.issuedAt) return;
  if (inFuture(visit, *assessment.issuedAt, "issued-in-future")) {
    visit.remarkAt("issued-in-future", "/issuedAt",
                   {{"issued", spoken(*assessment.issuedAt)}, {"now", spoken(visit.now())}});
  }
  if (assessment.issuedAt->utc >= assessment.measuredAt.utc) return;
  visit.remarkAt(
      "issued-before-measured", "/issuedAt",
      {{"issued", spoken(*assessment.issuedAt)}, {"measured", spoken(assessment.measuredAt)}});
}

/// Dates of birth are not repeated in a sentence: it may be logged.
void checkBirth(Visit& visit) {
  const std::optional<Date>& birth = visit.assessment().patient.birthDate;
  if (!birth) return;
  constexpr std::string_view kPlace = "/patient/birthDate";
  const Date measured = localDate(visit.assessment().measuredAt);
  if (*birth > localDate(visit.now())) {
    return visit.remarkAt("birth-in-future", std::string{kPlace});
  }
  if (*birth > measured) return visit.remarkAt("measured-before-birth", std::string{kPlace});
  const std::int32_t bound = visit.figure("birth-too-long-ago", "years");
  if (*birth + years{bound} >= measured) return;
  visit.remarkAt("birth-too-long-ago", std::string{kPlace}, {{"bound", std::to_string(bound)}});
}

/// An index to more than two decimals was made by a formula of its own or is no reading at all.
void checkPreviousDecimals(Visit& visit, Item item, Side side) {
  constexpr std::uint8_t kDecimals = 2;
  const auto value = plainNumber(visit.find(item, side));
  if (!value || value->scale <= kDecimals) return;
  visit.remark("previous-decimals", item, side,
               {{"reading", visit.naming(item, side)}, {"value", value->text()}});
}

void checkPrevious(Visit& visit) {
  const Assessment& assessment = visit.assessment();
  for (const Side side : kSides) {
    checkPreviousDecimals(visit, Item::PreviousAbi, side);
    checkPreviousDecimals(visit, Item::PreviousTbi, side);
  }
  if (!assessment.previousOn || *assessment.previousOn < localDate(assessment.measuredAt)) return;
  visit.remarkAt(
      "previous-not-before", "/previous/measuredOn",
      {{"date", spoken(*assessment.previousOn)}, {"measured", spoken(assessment.measuredAt)}});
}

void checkInstruments(Visit& visit) {
  const auto& instruments = visit.assessment().instruments;
  const Date measured = localDate(visit.assessment().measuredAt);
  for (std::size_t i = 0; i < instruments.size(); ++i) {
    const std::optional<Date>& calibrated = instruments[i].calibratedOn;
    if (!calibrated || *calibrated <= measured) continue;
    visit.remarkAt("calibrated-after-measured",
                   "/instruments/" + std::to_string(i) + "/calibratedOn",
                   {{"kind", instruments[i].kind},
                    {"calibrated", spoken(*calibrated)},
                    {"measured", spoken(measured)}});
  }
}

}  // namespace

void checkDates(Visit& visit) {
  checkMeasured(visit);
  checkIssued(visit);
  checkBirth(visit);
  checkInstruments(visit);
  checkPrevious(visit);
}

}  // namespace footbridge::validation
