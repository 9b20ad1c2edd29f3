// Wall clocks by the IANA time-zone database of the system.

#include "core/zone.hpp"

#include <gtest/gtest.h>

namespace footbridge {
namespace {

Moments at(std::string_view zone, std::string_view day, int hour, int minute) {
  return Zone::named(zone)->at(*parseDate(day), hour * 3600 + minute * 60);
}

TEST(Zone, OneMoment) {
  const Moments moments = at("Europe/London", "2026-07-01", 10, 20);
  EXPECT_EQ(moments.count, Moments::Count::One);
  EXPECT_EQ(text(moments.first), "2026-07-01T10:20:00+01:00");
  EXPECT_EQ(text(at("America/New_York", "2026-01-15", 0, 0).first), "2026-01-15T00:00:00-05:00");
  EXPECT_EQ(text(at("Asia/Kathmandu", "2026-01-15", 23, 59).first), "2026-01-15T23:59:00+05:45");
}

// In 2026 British clocks go forward on 29 March and back on 25 October
// (gov.uk/when-do-the-clocks-change).
TEST(Zone, TheHourThatIsLeftOut) {
  for (const int minute : {0, 30, 59}) {
    const Moments moments = at("Europe/London", "2026-03-29", 1, minute);
    EXPECT_EQ(moments.count, Moments::Count::None);
    EXPECT_EQ(text(moments.first), "2026-03-29T00:59:59+00:00");
    EXPECT_EQ(text(moments.second), "2026-03-29T02:00:00+01:00");
  }
  EXPECT_EQ(at("Europe/London", "2026-03-29", 0, 59).count, Moments::Count::One);
  EXPECT_EQ(at("Europe/London", "2026-03-29", 2, 0).count, Moments::Count::One);
}

TEST(Zone, TheHourThatComesTwice) {
  const Moments moments = at("Europe/London", "2026-10-25", 1, 30);
  EXPECT_EQ(moments.count, Moments::Count::Two);
  EXPECT_EQ(text(moments.first), "2026-10-25T01:30:00+01:00");
  EXPECT_EQ(text(moments.second), "2026-10-25T01:30:00+00:00");
  EXPECT_EQ(at("Europe/London", "2026-10-25", 0, 59).count, Moments::Count::One);
  EXPECT_EQ(at("Europe/London", "2026-10-25", 2, 0).count, Moments::Count::One);
}

TEST(Zone, NamesThatAreNone) {
  for (const std::string_view name : {"Europe/Londres", "", "GMT+1:30", "../etc/passwd"}) {
    EXPECT_FALSE(Zone::named(name)) << name;
  }
}

}  // namespace
}  // namespace footbridge
