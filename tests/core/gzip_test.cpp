#include "core/gzip.hpp"

#include <gtest/gtest.h>

#include "support/unzipped.hpp"

namespace footbridge {
namespace {

std::string varied(std::size_t size) {
  std::string out;
  for (unsigned state = 1; out.size() < size; state = state * 1'103'515'245U + 12'345U) {
    out += static_cast<char>(state >> 16U);
  }
  return out;
}

TEST(Gzip, ComesBackAsItWas) {
  for (const std::string& bytes :
       {std::string(), std::string("{}"), std::string(1U << 20U, 'a'), varied(300'000)}) {
    EXPECT_EQ(test::unzipped(gzipped(bytes)), bytes);
  }
}

TEST(Gzip, TheSameBytesGiveTheSameForm) { EXPECT_EQ(gzipped("{\"a\":1}"), gzipped("{\"a\":1}")); }

TEST(Gzip, CarriesNoTimeAndNoName) {
  const std::string form = gzipped("x");
  ASSERT_GT(form.size(), 10U);
  EXPECT_EQ(form.substr(0, 2), "\x1F\x8B");            // RFC 1952 section 2.3.1
  EXPECT_EQ(form.substr(3, 5), std::string(5, '\0'));  // flags and time
}

TEST(Gzip, MakesRepetitionSmall) { EXPECT_LT(gzipped(std::string(100'000, 'a')).size(), 1'000U); }

TEST(Gzip, WhatIsCutOffIsSeen) {
  const std::string form = gzipped(varied(1'000));
  EXPECT_EQ(test::unzipped(form.substr(0, form.size() - 1)), std::nullopt);
}

}  // namespace
}  // namespace footbridge
