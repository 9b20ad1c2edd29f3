#include "core/text.hpp"

#include <gtest/gtest.h>

#include <vector>

namespace footbridge {
namespace {

using std::string_view_literals::operator""sv;

TEST(HashedText, IsTheSameForALiteralAndForATextMadeLater) {
  struct Both {
    HashedText literal;
    std::string text;
  };
  const std::vector<Both> all{{"", ""},
                              {"a", "a"},
                              {"sevenab", "sevenab"},
                              {"eight-ab", "eight-ab"},
                              {"nine-abcd", "nine-abcd"},
                              {"caf\xC3\xA9 of sixteen", "caf\xC3\xA9 of sixteen"},
                              {"grade-clti-measure-undecided", "grade-clti-measure-undecided"}};
  for (const auto& [literal, text] : all) {
    EXPECT_EQ(literal.hash(), HashedText(text).hash()) << text;
    EXPECT_EQ(literal.text(), text);
    EXPECT_TRUE(literal == HashedText(text));
    EXPECT_FALSE(literal == HashedText(text + "x")) << text;
  }
}

TEST(Utf8, TakesEveryFormOfRfc3629) {
  for (const std::string_view bytes :
       {""sv, "plain"sv, "\0"sv, "\x7F"sv, "\xC2\x80"sv, "\xDF\xBF"sv, "\xE0\xA0\x80"sv,
        "\xED\x9F\xBF"sv, "\xEE\x80\x80"sv, "\xEF\xBF\xBF"sv, "\xEF\xBB\xBF"sv,
        "\xF0\x90\x80\x80"sv, "\xF4\x8F\xBF\xBF"sv, "a\xC3\xA9z\xE2\x82\xAC"sv}) {
    EXPECT_TRUE(validUtf8(bytes)) << testing::PrintToString(bytes);
  }
}

TEST(Utf8, RefusesEveryOtherForm) {
  for (const std::string_view bytes :
       {// continuation without lead, lead without continuation
        "\x80"sv, "\xBF"sv, "\xC3"sv, "\xC3("sv, "\xE2\x82"sv, "\xE2("sv, "\xE2\x82("sv,
        "\xF0\x9F\x98"sv, "\xF0\x9F("sv, "\xF0\x9F\x98("sv, "a\xC3"sv, "\xC3\xC3\xA9"sv,
        // overlong
        "\xC0\x80"sv, "\xC1\xBF"sv, "\xE0\x80\x80"sv, "\xE0\x9F\xBF"sv, "\xF0\x80\x80\x80"sv,
        "\xF0\x8F\xBF\xBF"sv,
        // surrogates
        "\xED\xA0\x80"sv, "\xED\xBF\xBF"sv, "\xED\xA0\x80\xED\xB0\x80"sv,
        // above U+10FFFF, and leads that do not exist
        "\xF4\x90\x80\x80"sv, "\xF5\x80\x80\x80"sv, "\xF8\x88\x80\x80\x80"sv, "\xFE"sv, "\xFF"sv,
        // a text of Windows-1252
        "Andr\xE9"sv}) {
    EXPECT_FALSE(validUtf8(bytes)) << testing::PrintToString(bytes);
  }
}

std::string encoded(char32_t c) {
  const auto byte = [](char32_t value) { return static_cast<char>(value); };
  if (c < 0x80) return {byte(c)};
  if (c < 0x800) return {byte(0xC0 | c >> 6), byte(0x80 | (c & 0x3F))};
  if (c < 0x10000) {
    return {byte(0xE0 | c >> 12), byte(0x80 | (c >> 6 & 0x3F)), byte(0x80 | (c & 0x3F))};
  }
  return {byte(0xF0 | c >> 18), byte(0x80 | (c >> 12 & 0x3F)), byte(0x80 | (c >> 6 & 0x3F)),
          byte(0x80 | (c & 0x3F))};
}

TEST(Utf8, EveryCodePointAndNoSurrogate) {
  for (char32_t c = 0; c <= 0x10FFFF; ++c) {
    const bool surrogate = c >= 0xD800 && c <= 0xDFFF;
    ASSERT_EQ(validUtf8(encoded(c)), !surrogate) << std::hex << static_cast<std::uint32_t>(c);
  }
}

TEST(Nearest, FindsTheWordThatWasMeant) {
  const std::vector<std::string> words{"dorsalisPedis", "posteriorTibial", "peroneal",
                                       "anteriorTibial"};
  EXPECT_EQ(nearest("dorsalisPedes", words), "dorsalisPedis");
  EXPECT_EQ(nearest("dorsalispedis", words), "dorsalisPedis");
  EXPECT_EQ(nearest("posteriorTibal", words), "posteriorTibial");
  EXPECT_EQ(nearest("peroneal", words), "peroneal");
  EXPECT_EQ(nearest("femoral", words), "");
  EXPECT_EQ(nearest("", words), "");
  EXPECT_EQ(nearest("x", {}), "");
}

TEST(Fill, PutsArgumentsInAndLeavesUnknownNames) {
  EXPECT_EQ(fill("is {value}", {{"value", "98"}}), "is 98");
  EXPECT_EQ(fill("{a}{b}{a}", {{"a", "1"}, {"b", "2"}}), "121");
  EXPECT_EQ(fill("{a} and {c}", {{"a", "1"}}), "1 and {c}");
  EXPECT_EQ(fill("nothing", {{"a", "1"}}), "nothing");
  EXPECT_EQ(fill("", {}), "");
  EXPECT_EQ(fill("open {a", {{"a", "1"}}), "open {a");
  EXPECT_EQ(fill("shut a} {a}", {{"a", "1"}}), "shut a} 1");
  EXPECT_EQ(fill("{}", {}), "{}");
}

// What was put in comes from outside and must not be filled again.
TEST(Fill, DoesNotLookIntoWhatItPutIn) {
  EXPECT_EQ(fill("{a} {b}", {{"a", "{b}"}, {"b", "2"}}), "{b} 2");
}

TEST(Trimmed, TakesWhiteSpaceFromTheEndsOnly) {
  EXPECT_EQ(trimmed(" \t\r\n a b \f\v"), "a b");
  EXPECT_EQ(trimmed(""), "");
  EXPECT_EQ(trimmed(" \n "), "");
}

TEST(Shortened, NeverCutsACharacterInTwo) {
  EXPECT_EQ(shortened("abc", 3), "abc");
  EXPECT_EQ(shortened("abc", 2), "ab");
  EXPECT_EQ(shortened("a\xC3\xA9z", 2), "a");
  EXPECT_EQ(shortened("a\xC3\xA9z", 3), "a\xC3\xA9");
  EXPECT_EQ(shortened("\xF0\x9F\x98\x80", 3), "");
  for (std::size_t limit = 0; limit < 12; ++limit) {
    EXPECT_TRUE(validUtf8(shortened("\xE2\x82\xAC\xC3\xA9\xF0\x9F\x98\x80x", limit))) << limit;
  }
}

TEST(Printable, LeavesNothingThatSteersATerminalOrLooksLikeALineOfOurs) {
  EXPECT_EQ(printable("plain \xC3\xA9 \xF0\x9F\x98\x80"), "plain \xC3\xA9 \xF0\x9F\x98\x80");
  for (const std::string_view control : {"\0"sv, "\t"sv, "\n"sv, "\r"sv, "\x1B"sv, "\x7F"sv}) {
    EXPECT_EQ(printable("a" + std::string(control) + "b"),
              "a\xEF\xBF\xBD"
              "b");
  }
}

// RFC 3629: Latin-1, a character cut off, an overlong form, a surrogate, above U+10FFFF.
TEST(Text, PrintableIsAlwaysUtf8) {
  EXPECT_EQ(printable("verf\xFCgbar"), "verf\xEF\xBF\xBDgbar");
  for (const std::string_view broken :
       {"\xFC"sv, "\xC3"sv, "\x80"sv, "\xC0\xAF"sv, "\xED\xA0\x80"sv, "\xF4\x90\x80\x80"sv,
        "\xE2\x82"sv, "\xFF\xFE"sv}) {
    const std::string shown = printable("a" + std::string(broken) + "b");
    EXPECT_TRUE(validUtf8(shown)) << testing::PrintToString(broken);
    EXPECT_TRUE(shown.starts_with("a\xEF\xBF\xBD") && shown.ends_with("\xEF\xBF\xBD"
                                                                      "b"))
        << testing::PrintToString(shown);
  }
}

}  // namespace
}  // namespace footbridge
