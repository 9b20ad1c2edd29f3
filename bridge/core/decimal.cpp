#include "core/decimal.hpp"

#include <algorithm>
#include <charconv>

namespace footbridge {
namespace {

constexpr int kMaxDigits = 15;

std::int64_t powerOfTen(int exponent) {
  std::int64_t power = 1;
  for (int i = 0; i < exponent; ++i) power *= 10;
  return power;
}

bool isDigit(char c) { return c >= '0' && c <= '9'; }

/// The grammar of RFC 8259 section 6, taken apart while it is checked.
struct Parts {
  bool negative = false;
  std::string digits;
  int scale = 0;
  int exponent = 0;
};

std::string_view takeDigits(std::string_view& text) {
  const auto end = std::find_if_not(text.begin(), text.end(), isDigit);
  const auto length = static_cast<std::size_t>(end - text.begin());
  const std::string_view digits = text.substr(0, length);
  text.remove_prefix(length);
  return digits;
}

bool takeExponent(std::string_view& text, int& exponent) {
  if (text.empty() || (text.front() != 'e' && text.front() != 'E')) return true;
  text.remove_prefix(1);
  const bool negative = !text.empty() && text.front() == '-';
  if (!text.empty() && (text.front() == '-' || text.front() == '+')) text.remove_prefix(1);
  const std::string_view digits = takeDigits(text);
  if (digits.empty() || digits.size() > 3) return false;
  std::from_chars(digits.data(), digits.data() + digits.size(), exponent);
  if (negative) exponent = -exponent;
  return true;
}

std::optional<Parts> split(std::string_view text) {
  Parts parts;
  parts.negative = !text.empty() && text.front() == '-';
  if (parts.negative) text.remove_prefix(1);
  const std::string_view integer = takeDigits(text);
  if (integer.empty() || (integer.size() > 1 && integer.front() == '0')) return std::nullopt;
  parts.digits = integer;
  if (!text.empty() && text.front() == '.') {
    text.remove_prefix(1);
    const std::string_view fraction = takeDigits(text);
    if (fraction.empty()) return std::nullopt;
    parts.digits += fraction;
    parts.scale = static_cast<int>(fraction.size());
  }
  if (!takeExponent(text, parts.exponent) || !text.empty()) return std::nullopt;
  return parts;
}

}  // namespace

std::optional<Decimal> Decimal::parse(std::string_view text) {
  std::optional<Parts> parts = split(text);
  if (!parts) return std::nullopt;
  const int scale = std::max(parts->scale - parts->exponent, 0);
  const int zeros = std::max(parts->exponent - parts->scale, 0);
  const std::size_t leading = std::min(parts->digits.find_first_not_of('0'), parts->digits.size());
  const std::size_t significant = parts->digits.size() - leading;
  if (scale > kMaxDigits || significant + static_cast<std::size_t>(zeros) > kMaxDigits) {
    return std::nullopt;
  }
  std::int64_t digits = 0;
  for (const char c : parts->digits) digits = digits * 10 + (c - '0');
  digits *= powerOfTen(zeros);
  return Decimal{parts->negative ? -digits : digits, static_cast<std::uint8_t>(scale)};
}

std::string Decimal::text() const {
  std::string out = std::to_string(digits < 0 ? -digits : digits);
  if (scale > 0) {
    if (out.size() <= scale) out.insert(0, scale + 1U - out.size(), '0');
    out.insert(out.size() - scale, 1, '.');
  }
  if (digits < 0) out.insert(0, 1, '-');
  return out;
}

bool Decimal::whole() const { return digits % powerOfTen(scale) == 0; }

std::int64_t Decimal::floor() const {
  const std::int64_t unit = powerOfTen(scale);
  const std::int64_t quotient = digits / unit;
  return (digits < 0 && digits % unit != 0) ? quotient - 1 : quotient;
}

std::strong_ordering order(const Decimal& left, const Decimal& right) {
  // Both scales are at most 15 and both digit counts at most 15, so a common scale fits 128 bits.
  __extension__ using Wide = __int128;
  const int scale = std::max(left.scale, right.scale);
  const Wide a = Wide{left.digits} * powerOfTen(scale - left.scale);
  const Wide b = Wide{right.digits} * powerOfTen(scale - right.scale);
  return a < b ? std::strong_ordering::less
               : (a > b ? std::strong_ordering::greater : std::strong_ordering::equal);
}

}  // namespace footbridge
