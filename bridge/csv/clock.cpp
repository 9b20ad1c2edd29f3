#include "csv/clock.hpp"

#include <algorithm>
#include <array>

#include "core/text.hpp"

namespace footbridge::csv {
namespace {

constexpr std::array<std::string_view, 12> kMonths{"january",   "february", "march",    "april",
                                                   "may",       "june",     "july",     "august",
                                                   "september", "october",  "november", "december"};

bool digit(char c) { return c >= '0' && c <= '9'; }
bool letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

/// At most `most` digits off the front; -1 if there is none.
int takeDigits(std::string_view& text, std::size_t most) {
  int value = -1;
  for (std::size_t i = 0; i < most && !text.empty() && digit(text.front()); ++i) {
    value = (value < 0 ? 0 : value * 10) + (text.front() - '0');
    text.remove_prefix(1);
  }
  return value;
}

/// A month by name off the front: all of it, or three letters.
int takeMonth(std::string_view& text) {
  std::string name;
  while (!text.empty() && letter(text.front())) {
    name += static_cast<char>(text.front() | 0x20);
    text.remove_prefix(1);
  }
  for (std::size_t i = 0; i < kMonths.size(); ++i) {
    if (name == kMonths[i] || name == kMonths[i].substr(0, 3)) return static_cast<int>(i) + 1;
  }
  return -1;
}

int takeYear(std::string_view& text, bool twoDigits) {
  const std::size_t before = text.size();
  const int year = takeDigits(text, 4);
  const std::size_t width = before - text.size();
  if (twoDigits) return width == 2 ? 2000 + year : -1;
  return width == 4 ? year : -1;
}

}  // namespace

std::optional<DatePattern> DatePattern::of(std::string_view pattern) {
  DatePattern out;
  out.text_ = pattern;
  std::string seen;
  for (std::size_t i = 0; i < pattern.size();) {
    const char c = pattern[i];
    const std::size_t end = std::min(pattern.find_first_not_of(c, i), pattern.size());
    const std::size_t width = end - i;
    i = end;
    if (!letter(c)) {
      if (digit(c) || width != 1) return std::nullopt;
      out.parts_.push_back({c});
      continue;
    }
    const bool good = (c == 'd' && width <= 2) || (c == 'm' && width <= 3) ||
                      (c == 'y' && (width == 2 || width == 4));
    if (!good) return std::nullopt;
    seen += c;
    if (c == 'y') out.twoDigitYear_ = width == 2;
    out.parts_.push_back({c, c == 'm' && width == 3});
  }
  std::sort(seen.begin(), seen.end());
  return seen == "dmy" && out.parts_.size() == 5 ? std::optional{out} : std::nullopt;
}

std::optional<Date> DatePattern::read(std::string_view text, std::string_view& rest) const {
  int day = -1;
  int month = -1;
  int year = -1;
  for (const Part& part : parts_) {
    if (part.what == 'd') {
      day = takeDigits(text, 2);
    } else if (part.what == 'm') {
      month = part.named ? takeMonth(text) : takeDigits(text, 2);
    } else if (part.what == 'y') {
      year = takeYear(text, twoDigitYear_);
    } else if (text.starts_with(part.what)) {
      text.remove_prefix(1);
    } else {
      return std::nullopt;
    }
  }
  if (day < 1 || month < 1 || year < 1) return std::nullopt;
  const Date out{std::chrono::year{year}, std::chrono::month{static_cast<unsigned>(month)},
                 std::chrono::day{static_cast<unsigned>(day)}};
  const bool cut =
      !text.empty() && (digit(text.front()) || letter(text.front())) && !text.starts_with('T');
  if (!out.ok() || cut) return std::nullopt;
  rest = text;
  return out;
}

std::optional<std::int32_t> readTime(std::string_view text) {
  text = trimmed(text);
  std::array<int, 3> parts{0, 0, 0};
  const std::size_t digits = std::min(text.find_first_not_of("0123456789"), text.size());
  std::size_t count = 0;
  if (digits == 4) {
    parts[0] = takeDigits(text, 2);
    parts[1] = takeDigits(text, 2);
    count = 2;
  } else {
    parts[count++] = takeDigits(text, 2);
    while (count < 3 && (text.starts_with(':') || text.starts_with('.'))) {
      text.remove_prefix(1);
      const std::size_t before = text.size();
      parts[count++] = takeDigits(text, 2);
      if (before - text.size() != 2) return std::nullopt;
    }
  }
  std::string half(trimmed(text));
  for (char& c : half) c = static_cast<char>(letter(c) ? c | 0x20 : c);
  const bool twelve = half == "am" || half == "pm";
  if (count < 2 || (!half.empty() && !twelve) || parts[0] < 0) return std::nullopt;
  if (twelve && (parts[0] < 1 || parts[0] > 12)) return std::nullopt;
  const int hour = twelve ? parts[0] % 12 + (half == "pm" ? 12 : 0) : parts[0];
  if (hour > 23 || parts[1] > 59 || parts[2] > 59) return std::nullopt;
  return hour * 3600 + parts[1] * 60 + parts[2];
}

}  // namespace footbridge::csv
