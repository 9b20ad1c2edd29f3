#pragma once
// Decimal numbers as digits and scale. FHIR forbids IEEE floats for decimals and 1.0 is not 1.00
// (hl7.org/fhir/R4/datatypes.html#decimal), so the sender's digits are kept from end to end.

#include <compare>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace footbridge {

/// `digits` / 10^`scale`; 0.90 is {90, 2}. Equality is of the written form, order() is of the
/// value.
struct Decimal {
  std::int64_t digits = 0;
  std::uint8_t scale = 0;

  /// Reads a JSON number ("-0.90", "1e2"). Nothing if it is not one or has more than 15 digits.
  static std::optional<Decimal> parse(std::string_view text);

  /// The number as text, trailing zeros kept: {90, 2} gives "0.90".
  std::string text() const;

  /// True if it has no fraction other than zeros: 12.0 is whole, 12.5 is not.
  bool whole() const;

  /// The largest whole number that is not above it.
  std::int64_t floor() const;

  bool operator==(const Decimal&) const = default;
};

/// Compares the values: order({90, 2}, {9, 1}) is equal.
std::strong_ordering order(const Decimal& left, const Decimal& right);

}  // namespace footbridge
