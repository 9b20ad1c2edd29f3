#include "core/time.hpp"

#include <array>

namespace footbridge {
namespace {

using std::chrono::minutes;
using std::chrono::sys_days;

/// Reads exactly `width` digits at `at`, or gives -1.
int digitsAt(std::string_view text, std::size_t at, std::size_t width) {
  int value = 0;
  for (std::size_t i = at; i < at + width; ++i) {
    if (i >= text.size() || text[i] < '0' || text[i] > '9') return -1;
    value = value * 10 + (text[i] - '0');
  }
  return value;
}

bool charAt(std::string_view text, std::size_t at, char c) {
  return at < text.size() && text[at] == c;
}

void appendTwo(std::string& out, int value) {
  out += static_cast<char>('0' + value / 10);
  out += static_cast<char>('0' + value % 10);
}

/// "Z", "+01:00", "-05:30" as minutes; FHIR allows up to 14 hours.
std::optional<std::int16_t> parseOffset(std::string_view text) {
  if (text == "Z") return std::int16_t{0};
  if (text.size() != 6 || (text[0] != '+' && text[0] != '-') || text[3] != ':') return std::nullopt;
  const int hour = digitsAt(text, 1, 2);
  const int minute = digitsAt(text, 4, 2);
  if (hour < 0 || minute < 0 || minute > 59 || hour * 60 + minute > 14 * 60) return std::nullopt;
  return static_cast<std::int16_t>((text[0] == '-' ? -1 : 1) * (hour * 60 + minute));
}

/// The length of ".123" at `at`, 0 if there is none.
std::size_t fractionLength(std::string_view text, std::size_t at) {
  if (!charAt(text, at, '.')) return 0;
  std::size_t end = at + 1;
  while (end < text.size() && text[end] >= '0' && text[end] <= '9') ++end;
  return end - at;
}

std::chrono::sys_seconds local(const Instant& instant) {
  return instant.utc + minutes{instant.offsetMinutes};
}

std::chrono::hh_mm_ss<std::chrono::seconds> timeOfDay(const Instant& instant) {
  const auto moment = local(instant);
  return std::chrono::hh_mm_ss{moment - std::chrono::floor<std::chrono::days>(moment)};
}

}  // namespace

std::optional<Date> parseDate(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return std::nullopt;
  const int year = digitsAt(text, 0, 4);
  const int month = digitsAt(text, 5, 2);
  const int day = digitsAt(text, 8, 2);
  if (year < 1 || month < 0 || day < 0) return std::nullopt;
  const Date date{std::chrono::year{year}, std::chrono::month{static_cast<unsigned>(month)},
                  std::chrono::day{static_cast<unsigned>(day)}};
  return date.ok() ? std::optional{date} : std::nullopt;
}

std::optional<Instant> parseInstant(std::string_view text) {
  const std::optional<Date> date = parseDate(text.substr(0, 10));
  if (!date || !charAt(text, 10, 'T') || !charAt(text, 13, ':') || !charAt(text, 16, ':')) {
    return std::nullopt;
  }
  const int hour = digitsAt(text, 11, 2);
  const int minute = digitsAt(text, 14, 2);
  const int second = digitsAt(text, 17, 2);
  if (hour < 0 || hour > 23 || minute < 0 || minute > 59 || second < 0 || second > 60) {
    return std::nullopt;
  }
  const std::size_t fraction = fractionLength(text, 19);
  if (fraction == 1) return std::nullopt;
  const std::optional<std::int16_t> offset = parseOffset(text.substr(19 + fraction));
  if (!offset) return std::nullopt;
  const auto moment = sys_days{*date} + std::chrono::hours{hour} + minutes{minute} +
                      std::chrono::seconds{second == 60 ? 59 : second} - minutes{*offset};
  return Instant{moment, *offset};
}

std::string text(const Date& date) {
  const int year = static_cast<int>(date.year());
  std::string out;
  appendTwo(out, year / 100);
  appendTwo(out, year % 100);
  out += '-';
  appendTwo(out, static_cast<int>(static_cast<unsigned>(date.month())));
  out += '-';
  appendTwo(out, static_cast<int>(static_cast<unsigned>(date.day())));
  return out;
}

std::string text(const Instant& instant) {
  std::string out = text(localDate(instant));
  const auto time = timeOfDay(instant);
  out += 'T';
  appendTwo(out, static_cast<int>(time.hours().count()));
  out += ':';
  appendTwo(out, static_cast<int>(time.minutes().count()));
  out += ':';
  appendTwo(out, static_cast<int>(time.seconds().count()));
  const int offset = instant.offsetMinutes < 0 ? -instant.offsetMinutes : instant.offsetMinutes;
  out += instant.offsetMinutes < 0 ? '-' : '+';
  appendTwo(out, offset / 60);
  out += ':';
  appendTwo(out, offset % 60);
  return out;
}

std::string spoken(const Date& date) {
  static constexpr std::array<std::string_view, 12> kMonths{
      "January", "February", "March",     "April",   "May",      "June",
      "July",    "August",   "September", "October", "November", "December"};
  std::string out = std::to_string(static_cast<unsigned>(date.day()));
  out += ' ';
  out += kMonths[static_cast<unsigned>(date.month()) - 1];
  out += ' ';
  out += std::to_string(static_cast<int>(date.year()));
  return out;
}

std::string spoken(const Instant& instant) {
  std::string out = spoken(localDate(instant));
  const auto time = timeOfDay(instant);
  out += ' ';
  appendTwo(out, static_cast<int>(time.hours().count()));
  out += ':';
  appendTwo(out, static_cast<int>(time.minutes().count()));
  return out;
}

Date localDate(const Instant& instant) {
  return Date{std::chrono::floor<std::chrono::days>(local(instant))};
}

}  // namespace footbridge
