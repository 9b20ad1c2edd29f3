#include "json/writer.hpp"

#include <gtest/gtest.h>

#include <iomanip>
#include <sstream>

#include "json/value.hpp"

namespace footbridge::json {
namespace {

using std::string_view_literals::operator""sv;

std::string inQuotes(std::string_view text) {
  std::string out;
  appendQuoted(out, text);
  return out;
}

std::string written(std::string_view text) {
  Writer out;
  out.string(text);
  return std::string(out.text());
}

std::vector<std::string> samples() {
  std::vector<std::string> out;
  for (int c = 0; c < 0x80; ++c) {
    const std::string one(1, static_cast<char>(c));
    out.push_back(one);
    out.push_back("a" + one + "b" + one + one);
  }
  for (const std::string_view text :
       {""sv, "Andr\xC3\xA9"sv, "\xC2\x80"sv, "\xE2\x80\xA8\xE2\x80\xA9"sv, "\xEF\xBF\xBF"sv,
        "\xF0\x9F\x98\x80"sv, "\xF4\x8F\xBF\xBF"sv, "</div>&amp;'"sv, "\\\"\\\\\""sv,
        "ends with \\"sv}) {
    out.emplace_back(text);
  }
  for (std::size_t at = 0; at < 40; ++at) {  // long enough to be looked at by blocks
    std::string text(40, 'x');
    text[at] = at % 2 == 0 ? '"' : '\x1F';
    out.push_back(text);
    text.back() = '\\';
    out.push_back(text);
  }
  return out;
}

/// As RFC 8259, section 7, has it, with the short forms where there are some.
std::string quotedByTheBook(std::string_view text) {
  std::ostringstream out;
  out << '"' << std::uppercase << std::hex << std::setfill('0');
  for (const char c : text) {
    const std::size_t named = "\"\\\b\f\n\r\t"sv.find(c);
    if (named != std::string_view::npos) {
      out << '\\' << "\"\\bfnrt"[named];
    } else if (static_cast<unsigned char>(c) < 0x20) {
      out << "\\u" << std::setw(4) << static_cast<int>(c);
    } else {
      out << c;
    }
  }
  return out.str() + '"';
}

TEST(Writer, QuotesAsTheStandardSays) {
  for (const std::string& text : samples()) {
    EXPECT_EQ(inQuotes(text), quotedByTheBook(text)) << testing::PrintToString(text);
    EXPECT_EQ(written(text), quotedByTheBook(text)) << testing::PrintToString(text);
  }
}

// The reader refuses NUL inside a text, so that one sample is left out.
TEST(Writer, TheReaderGivesBackWhatWasQuoted) {
  for (const std::string& text : samples()) {
    if (text.find('\0') != std::string::npos) continue;
    const Result<Value> value = read(inQuotes(text));
    ASSERT_TRUE(value) << testing::PrintToString(text);
    EXPECT_EQ(*value->asString(), text);
  }
}

TEST(Writer, EscapedIsQuotedWithoutQuotes) {
  for (const std::string& text : samples()) {
    std::string out = "x";
    appendEscaped(out, text);
    EXPECT_EQ("\"" + out.substr(1) + "\"", inQuotes(text));
  }
}

/// Whatever the length, and wherever what has to be escaped stands.
TEST(Writer, XhtmlIsEscapedForBoth) {
  const auto xhtml = [](const std::string& text) {
    std::string out;
    appendXhtml(out, text);
    return out;
  };
  for (std::size_t length = 1; length <= 50; ++length) {
    EXPECT_EQ(xhtml(std::string(length, 'x')), std::string(length, 'x'));
    for (std::size_t at = 0; at < length; ++at) {
      for (const auto& [one, wanted] :
           {std::pair{'&', "&amp;"}, {'<', "&lt;"}, {'>', "&gt;"}, {'"', "\\\""}, {'\n', "\\n"}}) {
        std::string text(length, 'x');
        text[at] = one;
        const std::string before(at, 'x');
        const std::string after(length - at - 1, 'x');
        EXPECT_EQ(xhtml(text), before + wanted + after);
      }
    }
  }
}

TEST(Writer, ATextThatIsNoUtf8BreaksNothing) {
  Writer out;
  out.beginObject().member("reason", "nicht verf\xFCgbar").member("next", "x").endObject();
  const Result<Value> value = read(out.text());
  ASSERT_TRUE(value) << out.text();
  EXPECT_EQ(value->text("reason"), "nicht verf\xEF\xBF\xBDgbar");
  EXPECT_EQ(value->text("next"), "x");
}

TEST(Writer, FollowsTheShapeOfTheText) {
  Writer out;
  out.beginObject()
      .member("a", "x")
      .member("left out", "")
      .name("n")
      .number("0.90")
      .name("list")
      .beginArray()
      .number(7)
      .boolean(true)
      .null()
      .raw(R"({"b":1.10})")
      .endArray()
      .endObject();
  EXPECT_EQ(out.text(), R"({"a":"x","n":0.90,"list":[7,true,null,{"b":1.10}]})");
  EXPECT_TRUE(read(out.text()));
}

}  // namespace
}  // namespace footbridge::json
