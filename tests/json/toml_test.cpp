// TOML as the same tree as JSON.

#include "json/toml.hpp"

#include <gtest/gtest.h>

#include "json/writer.hpp"

namespace footbridge::json {
namespace {

std::string asJson(std::string_view toml) {
  const Result<Value> value = readToml(toml);
  std::string out;
  if (value) appendValue(out, *value);
  return out;
}

TEST(Toml, BecomesTheTreeOfTheJson) {
  EXPECT_EQ(asJson("b = 1\na = \"x\\ny\"\n[t]\nlist = [1, 2.5, true]\ninline = { k = 'v' }\n"),
            R"({"b":1,"a":"x\ny","t":{"list":[1,2.5,true],"inline":{"k":"v"}}})");
  EXPECT_EQ(asJson("d = 2026-10-05\nt = 10:20:00\n"), R"({"d":"2026-10-05","t":"10:20:00"})");
  EXPECT_EQ(asJson("[[a]]\nn = 1\n[[a]]\nn = 2\n"), R"({"a":[{"n":1},{"n":2}]})");
  EXPECT_EQ(asJson(""), "{}");
}

TEST(Toml, KeepsTheLineOfEachValue) {
  const Result<Value> value = readToml("a = 1\n\n[t]\nb = 2\n");
  ASSERT_TRUE(value);
  EXPECT_EQ(value->member("a")->span.begin, 1U);
  EXPECT_EQ(value->member("t")->member("b")->span.begin, 4U);
}

TEST(Toml, SaysWhereItIsBroken) {
  for (const std::string_view wrong : {"a = 1\nb ==", "a = 1\na = 2", "x\ny", "a = 1\nb = \"",
                                       "a=1\n[b", "[/a", "[a./", "a. = 1", "[[/"}) {
    const Result<Value> value = readToml(wrong);
    ASSERT_FALSE(value) << wrong;
    EXPECT_EQ(value.issues().size(), 1U);
    EXPECT_TRUE(value.issues().front().place.starts_with("line ")) << wrong;
  }
}

TEST(Toml, TakesHostileBytesWithoutHarm) {
  for (int c = 0; c < 256; ++c) {
    const std::string bytes =
        "a = \"x" + std::string(1, static_cast<char>(c)) + "\"\n" + static_cast<char>(c);
    const Result<Value> value = readToml(bytes);
    EXPECT_TRUE(value || value.issues().size() == 1);
  }
  EXPECT_FALSE(readToml("a = " + std::string(5000, '[')));
}

}  // namespace
}  // namespace footbridge::json
