#pragma once
// Dates and instants as ISO 8601 text and back. FHIR wants an offset with every time of day
// (hl7.org/fhir/R4/datatypes.html#dateTime); Footbridge never invents one.

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace footbridge {

/// A calendar date that exists.
using Date = std::chrono::year_month_day;

/// A time of day on a date, to the second, with the offset from UTC under which it was written.
struct Instant {
  std::chrono::sys_seconds utc;
  std::int16_t offsetMinutes = 0;

  bool operator==(const Instant&) const = default;
};

/// "2026-03-01". Nothing if the form is wrong or the day does not exist.
std::optional<Date> parseDate(std::string_view text);

/// "2026-03-01T10:15:00+00:00", seconds and offset required, fractions cut, "Z" allowed. A leap
/// second
/// (":60") is read as ":59". Nothing if the form is wrong or the moment does not exist.
std::optional<Instant> parseInstant(std::string_view text);

std::string text(const Date& date);

/// With seconds and offset, as written: "2026-03-01T10:15:00+00:00".
std::string text(const Instant& instant);

/// "1 March 2026": for people, month by name so that no reader swaps day and month.
std::string spoken(const Date& date);

/// "1 March 2026 10:15".
std::string spoken(const Instant& instant);

/// The date on the wall where the instant was written.
Date localDate(const Instant& instant);

}  // namespace footbridge
