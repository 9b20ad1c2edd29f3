// Frames, however the bytes arrive.

#include "hl7/mllp.hpp"

#include <gtest/gtest.h>

namespace footbridge::hl7 {
namespace {

using Messages = std::vector<std::string>;

Messages byByte(Deframer& frames, std::string_view bytes) {
  Messages out;
  for (const char c : bytes) {
    for (std::string& message : frames.take({&c, 1})) out.push_back(std::move(message));
  }
  return out;
}

TEST(Mllp, TakesOneByteAtATime) {
  Deframer frames;
  EXPECT_EQ(byByte(frames, framed("MSH|a\r") + framed("MSH|b\r")),
            (Messages{"MSH|a\r", "MSH|b\r"}));
  EXPECT_EQ(frames.strayBytes(), 0U);
  EXPECT_FALSE(frames.inFrame());
}

TEST(Mllp, TakesAHundredMessagesInOneWrite) {
  std::string bytes;
  for (int i = 0; i < 100; ++i) bytes += framed("MSH|" + std::to_string(i));
  Deframer frames;
  const Messages out = frames.take(bytes);
  ASSERT_EQ(out.size(), 100U);
  EXPECT_EQ(out.back(), "MSH|99");
}

TEST(Mllp, WaitsForTheSecondByteOfTheEnd) {
  Deframer frames;
  EXPECT_TRUE(frames.take("\x0BMSH|\x1C").empty());
  EXPECT_TRUE(frames.inFrame());
  EXPECT_EQ(frames.take("\r"), Messages{"MSH|"});
}

TEST(Mllp, DropsAndCountsWhatStandsBetweenFrames) {
  Deframer frames;
  EXPECT_EQ(frames.take("\r\njunk" + framed("MSH|1") + "\r\n" + framed("MSH|2")),
            (Messages{"MSH|1", "MSH|2"}));
  EXPECT_EQ(frames.strayBytes(), 4U);
}

TEST(Mllp, KeepsAnEndMarkThatIsNone) {
  Deframer frames;
  EXPECT_EQ(frames.take("\x0BMSH|\x1Cx\x1C\x1C\r"), Messages{"MSH|\x1Cx\x1C"});
}

TEST(Mllp, GoesOnAfterAFrameThatIsTooLarge) {
  Deframer frames(8);
  EXPECT_EQ(frames.take(framed("123456789") + framed("12345678")), Messages{"12345678"});
  EXPECT_EQ(frames.oversized(), 1U);
}

TEST(Mllp, BeginsAnewWhereAFrameBeginsWithinAnother) {
  Deframer frames;
  EXPECT_EQ(frames.take("\x0BMSH|half" + framed("MSH|whole")), Messages{"MSH|whole"});
  EXPECT_EQ(frames.unfinished(), 1U);
}

}  // namespace
}  // namespace footbridge::hl7
