#include "core/time.hpp"

#include <gtest/gtest.h>

#include <random>

namespace footbridge {
namespace {

TEST(Date, OnlyDaysThatExist) {
  for (const std::string_view text :
       {"0001-01-01", "1900-02-28", "2000-02-29", "2024-02-29", "2026-12-31", "9999-12-31"}) {
    const std::optional<Date> date = parseDate(text);
    ASSERT_TRUE(date) << text;
    EXPECT_EQ(footbridge::text(*date), text);
  }
  for (const std::string_view text :
       {"",           "2026",       "2026-02",     "2026-02-30",  "2026-04-31",
        "2023-02-29", "1900-02-29", "2026-00-01",  "2026-13-01",  "2026-01-00",
        "2026-01-32", "0000-01-01", "26-01-01",    "2026-1-1",    "2026/01/01",
        "01-02-2026", "20260101",   "2026-01-01T", " 2026-01-01", "+026-01-01",
        "-001-01-01", "2026-0a-01", "10000-01-01"}) {
    EXPECT_FALSE(parseDate(text)) << text;
  }
}

struct Moment {
  std::string_view written;
  std::int64_t utc;  ///< seconds since 1970, by Python's datetime
  int offset;
  std::string_view printed;
};

TEST(Instant, KeepsTheOffsetUnderWhichItWasWritten) {
  constexpr Moment kRows[]{
      {"2026-10-05T10:20:00+01:00", 1'791'192'000, 60, "2026-10-05T10:20:00+01:00"},
      {"2026-10-05T09:20:00Z", 1'791'192'000, 0, "2026-10-05T09:20:00+00:00"},
      {"2026-10-05T09:20:00-00:00", 1'791'192'000, 0, "2026-10-05T09:20:00+00:00"},
      {"2026-10-05T03:50:00-05:30", 1'791'192'000, -330, "2026-10-05T03:50:00-05:30"},
      {"2026-10-05T23:20:00+14:00", 1'791'192'000, 840, "2026-10-05T23:20:00+14:00"},
      {"2026-10-04T19:20:00-14:00", 1'791'192'000, -840, "2026-10-04T19:20:00-14:00"},
      {"1970-01-01T00:00:00Z", 0, 0, "1970-01-01T00:00:00+00:00"},
      {"1970-01-01T00:00:00+01:00", -3'600, 60, "1970-01-01T00:00:00+01:00"},
      {"2024-02-29T23:59:59Z", 1'709'251'199, 0, "2024-02-29T23:59:59+00:00"},
  };
  for (const Moment& row : kRows) {
    const std::optional<Instant> instant = parseInstant(row.written);
    ASSERT_TRUE(instant) << row.written;
    EXPECT_EQ(instant->utc.time_since_epoch().count(), row.utc) << row.written;
    EXPECT_EQ(instant->offsetMinutes, row.offset) << row.written;
    EXPECT_EQ(text(*instant), row.printed);
  }
}

TEST(Instant, FractionsAreCutAndALeapSecondIsTheLastOneBefore) {
  EXPECT_EQ(text(*parseInstant("2026-10-05T10:20:00.999999999+01:00")),
            "2026-10-05T10:20:00+01:00");
  EXPECT_EQ(text(*parseInstant("2016-12-31T23:59:60Z")), "2016-12-31T23:59:59+00:00");
}

TEST(Instant, RefusesWhatIsNotCompleteOrDoesNotExist) {
  for (const std::string_view text : {"",
                                      "2026-10-05",
                                      "2026-10-05T10:20:00",
                                      "2026-10-05T10:20+01:00",
                                      "2026-10-05T10:20:00+01",
                                      "2026-10-05T10:20:00+0100",
                                      "2026-10-05 10:20:00+01:00",
                                      "2026-10-05t10:20:00z",
                                      "2026-10-05T10:20:00z",
                                      "2026-02-30T10:20:00Z",
                                      "2026-10-05T24:00:00Z",
                                      "2026-10-05T23:60:00Z",
                                      "2026-10-05T23:59:61Z",
                                      "2026-10-05T10:20:00+14:01",
                                      "2026-10-05T10:20:00+15:00",
                                      "2026-10-05T10:20:00+01:60",
                                      "2026-10-05T10:20:00.Z",
                                      "2026-10-05T10:20:00,5Z",
                                      "2026-10-05T10:20:00Z ",
                                      "2026-10-05T10:20:00ZZ",
                                      "2026-10-05T1:20:00Z",
                                      "0000-10-05T10:20:00Z",
                                      "2026-10-05T10:20:0\xEF\xBC\x90Z"}) {
    EXPECT_FALSE(parseInstant(text)) << text;
  }
}

TEST(Instant, AnyMomentComesBackAsItWas) {
  std::mt19937_64 random{7};
  // Stays inside the years 1900 to 2100.
  std::uniform_int_distribution<std::int64_t> seconds{-2'208'988'800, 4'102'444'800};
  std::uniform_int_distribution<int> offsets{-840, 840};
  for (int i = 0; i < 20'000; ++i) {
    const Instant instant{std::chrono::sys_seconds{std::chrono::seconds{seconds(random)}},
                          static_cast<std::int16_t>(offsets(random))};
    ASSERT_EQ(parseInstant(text(instant)), instant) << text(instant);
  }
}

TEST(Instant, IsSpokenWithTheMonthByNameAndTheTimeOnTheWall) {
  const Instant late = *parseInstant("2026-03-01T00:05:00+01:00");
  EXPECT_EQ(spoken(late), "1 March 2026 00:05");
  EXPECT_EQ(spoken(localDate(late)), "1 March 2026");
  EXPECT_EQ(spoken(*parseDate("2026-12-31")), "31 December 2026");
}

}  // namespace
}  // namespace footbridge
