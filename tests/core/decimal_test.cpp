#include "core/decimal.hpp"

#include <gtest/gtest.h>

#include <random>

#include "core/ratio.hpp"

namespace footbridge {
namespace {

struct Written {
  std::string_view text;
  std::int64_t digits;
  int scale;
  std::string_view printed;  ///< the plain form: exponents are worked out
};

TEST(Decimal, KeepsTheDigitsAsWritten) {
  constexpr Written kRows[]{
      {"0", 0, 0, "0"},
      {"0.0", 0, 1, "0.0"},
      {"1.10", 110, 2, "1.10"},
      {"-0.90", -90, 2, "-0.90"},
      {"-0.05", -5, 2, "-0.05"},
      {"98.5", 985, 1, "98.5"},
      {"0.000000000000001", 1, 15, "0.000000000000001"},
      {"999999999999999", 999'999'999'999'999, 0, "999999999999999"},
      {"-999999999999999", -999'999'999'999'999, 0, "-999999999999999"},
      {"1e2", 100, 0, "100"},
      {"1E+2", 100, 0, "100"},
      {"1.5e1", 15, 0, "15"},
      {"1.50e1", 150, 1, "15.0"},
      {"12e-1", 12, 1, "1.2"},
      {"1e-15", 1, 15, "0.000000000000001"},
      {"1e14", 100'000'000'000'000, 0, "100000000000000"},
      {"0.00000000000000000001e20", 1, 0, "1"},
      {"0e14", 0, 0, "0"},
  };
  for (const Written& row : kRows) {
    const std::optional<Decimal> value = Decimal::parse(row.text);
    ASSERT_TRUE(value) << row.text;
    EXPECT_EQ(value->digits, row.digits) << row.text;
    EXPECT_EQ(value->scale, row.scale) << row.text;
    EXPECT_EQ(value->text(), row.printed) << row.text;
  }
}

// FHIR has no negative zero, and no pressure means one.
TEST(Decimal, NegativeZeroIsZero) {
  EXPECT_EQ(Decimal::parse("-0")->text(), "0");
  EXPECT_EQ(Decimal::parse("-0.00")->text(), "0.00");
}

TEST(Decimal, RefusesWhatIsNoJsonNumberOrTooLong) {
  for (const std::string_view text :
       {"", "-", "+1", ".5", "1.", "01", "-01", "1e", "1e+", "1e-", "1e1.5", "1,5", " 1", "1 ",
        "1a", "--1", "0x10", "1_000", "NaN", "Infinity", "1.2.3", "1e1e1", "\xEF\xBC\x91",
        // more than fifteen digits, before or behind the point
        "1000000000000000", "0.0000000000000001", "1e15", "1e-16", "123456789012345.6", "1e999",
        "1e-999", "1e1000", "0e16", "1e99999999999999999999"}) {
    EXPECT_FALSE(Decimal::parse(text)) << text;
  }
  EXPECT_FALSE(Decimal::parse(std::string_view("1\0", 2)));
}

std::string randomText(std::mt19937_64& random) {
  const auto below = [&random](std::uint64_t limit) { return random() % limit; };
  const std::uint64_t length = 1 + below(15);
  const std::uint64_t scale = below(length + 1);
  std::string text;
  for (std::uint64_t i = 0; i < length; ++i) text += static_cast<char>('0' + below(10));
  text.insert(length - scale, scale == 0 ? "" : ".");
  text.erase(0, std::min(text.find_first_not_of('0'), text.size()));
  if (text.empty() || text.front() == '.') text.insert(0, "0");
  const bool zero = text.find_first_not_of("0.") == std::string::npos;
  return !zero && below(2) == 0 ? "-" + text : text;
}

TEST(Decimal, AnyTextOfFifteenDigitsComesBackAsItWas) {
  std::mt19937_64 random{20261005};
  for (int i = 0; i < 20'000; ++i) {
    const std::string text = randomText(random);
    const std::optional<Decimal> value = Decimal::parse(text);
    ASSERT_TRUE(value) << text;
    ASSERT_EQ(value->text(), text);
  }
}

TEST(Decimal, OrderIsOfTheValueAndEqualityOfTheText) {
  constexpr std::string_view kAscending[]{"-999999999999999",
                                          "-1.5",
                                          "-1.05",
                                          "-0.000000000000001",
                                          "0",
                                          "0.000000000000001",
                                          "0.09",
                                          "0.9",
                                          "1",
                                          "10",
                                          "999999999999999"};
  for (std::size_t i = 0; i < std::size(kAscending); ++i) {
    for (std::size_t k = 0; k < std::size(kAscending); ++k) {
      EXPECT_EQ(order(*Decimal::parse(kAscending[i]), *Decimal::parse(kAscending[k])), i <=> k)
          << kAscending[i] << ' ' << kAscending[k];
    }
  }
  EXPECT_EQ(order({90, 2}, {9, 1}), std::strong_ordering::equal);
  EXPECT_NE((Decimal{90, 2}), (Decimal{9, 1}));
}

TEST(Decimal, WholeAndFloorLookAtTheValue) {
  EXPECT_TRUE(Decimal::parse("12.0")->whole());
  EXPECT_FALSE(Decimal::parse("12.5")->whole());
  EXPECT_EQ(Decimal::parse("12.9")->floor(), 12);
  EXPECT_EQ(Decimal::parse("-12.1")->floor(), -13);
  EXPECT_EQ(Decimal::parse("-12.0")->floor(), -12);
  EXPECT_EQ(Decimal::parse("-0.000000000000001")->floor(), -1);
}

// Every one of these lies exactly between two hundredths; a double falls to the wrong side of some.
TEST(Ratio, TiesGoUp) {
  EXPECT_EQ(hundredths({164, 160}), 103);  // 1.025
  EXPECT_EQ(hundredths({201, 200}), 101);  // 1.005
  EXPECT_EQ(hundredths({1, 200}), 1);      // 0.005
  EXPECT_EQ(hundredths({179, 200}), 90);   // 0.895
  EXPECT_EQ(hundredths({113, 200}), 57);   // 0.565
}

TEST(Ratio, RoundsToTheNearerHundredth) {
  EXPECT_EQ(hundredths({0, 120}), 0);
  EXPECT_EQ(hundredths({1, 201}), 0);
  EXPECT_EQ(hundredths({122, 135}), 90);  // 0.9037
  EXPECT_EQ(hundredths({2, 3}), 67);
  EXPECT_EQ(hundredths({300, 1}), 30'000);
}

TEST(Ratio, EveryPairLiesWithinHalfAHundredthAndNeverFallsAtATie) {
  for (std::int64_t den = 1; den <= 300; ++den) {
    for (std::int64_t num = 0; num <= 350; ++num) {
      // h/100 - 1/200 <= num/den < h/100 + 1/200, in whole numbers
      const std::int64_t h = hundredths({num, den});
      ASSERT_LE((2 * h - 1) * den, 200 * num) << num << '/' << den;
      ASSERT_GT((2 * h + 1) * den, 200 * num) << num << '/' << den;
    }
  }
}

}  // namespace
}  // namespace footbridge
