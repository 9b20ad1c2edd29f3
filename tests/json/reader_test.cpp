// The traps of JSON libraries that the reader closes, and the rules of RFC 8259 as a table.

#include <gtest/gtest.h>

#include "json/events.hpp"
#include "json/value.hpp"

namespace footbridge::json {
namespace {

using std::string_view_literals::operator""sv;

/// The text of a number that stands alone, "" if it was refused.
std::string numberText(std::string_view text) {
  const Result<Value> value = read(text);
  const Number* number = value ? value->asNumber() : nullptr;
  return number == nullptr ? "" : number->text;
}

std::string refusal(std::string_view text) {
  const Result<Value> value = read(text);
  return value ? "" : value.issues().front().text;
}

std::string nested(std::size_t depth) { return std::string(depth, '[') + std::string(depth, ']'); }

TEST(Reader, KeepsNumbersAsTheyWereWritten) {
  for (const std::string_view text :
       {"0", "-0", "1.10", "1e2", "1E+2", "-0.0", "0.10", "1.0e-7", "18446744073709551616",
        "340282366920938463463374607431768211456", "0.30000000000000004",
        "128.74836467836484838364836483643636483648e-336", "0.184467440737095516159",
        "9007199254740993"}) {
    EXPECT_EQ(numberText(text), text);
  }
}

// Both brought RapidJSON's own conversions into undefined behaviour (CVE-2024-38517, issue 1251).
TEST(Reader, HostileExponentsAreTextOrRefused) {
  for (const std::string_view text :
       {"1.00000000001e-2147483638", "1e-2147483649", "1e2147483648", "1e99999999999999999999",
        "-1e-99999999999999999999", "1e400"}) {
    const std::string kept = numberText(text);
    EXPECT_TRUE(kept == text || !refusal(text).empty()) << text;
  }
}

TEST(Reader, RefusesANumberLongerThanAnyMeant) {
  EXPECT_NE(numberText(std::string(64, '9')), "");
  EXPECT_EQ(refusal(std::string(65, '9')), "A number has more digits than can be meant. (byte 66)");
  EXPECT_FALSE(read("[" + std::string(1'000'000, '9') + "]"));
}

TEST(Reader, RefusesWhatIsNestedDeeperThanTheLimit) {
  EXPECT_TRUE(read(nested(32)));
  EXPECT_FALSE(read(nested(33)));
  EXPECT_FALSE(read(nested(1'000'000)));
  EXPECT_FALSE(read(std::string(1'000'000, '[')));
  std::string objects;
  for (int i = 0; i < 100'000; ++i) objects += "{\"a\":";
  EXPECT_FALSE(read(objects));
}

TEST(Reader, RefusesANameThatStandsTwice) {
  const Result<Value> value = read(R"({"legs":{"left":{},"right":{},"left":{}}})");
  ASSERT_FALSE(value);
  EXPECT_EQ(value.issues().front().text.substr(0, 46),
            "The name \"left\" stands twice in one object. (b");
  EXPECT_EQ(value.issues().front().place, "/legs/left");
  EXPECT_FALSE(read(R"({"a":1,"\u0061":2})")) << "the same name, escaped";
  EXPECT_TRUE(read(R"({"a":{"a":1},"b":{"a":1}})"));
}

TEST(Reader, RefusesANulAnywhere) {
  EXPECT_FALSE(read("{\"a\":1}\0garbage"sv));
  EXPECT_FALSE(read("{}\0"sv));
  EXPECT_FALSE(read("\0{}"sv));
  EXPECT_FALSE(read("\"a\0b\""sv));
  EXPECT_FALSE(read(R"("a\u0000b")"));
  EXPECT_FALSE(read(R"({"a\u0000b":1})"));
}

TEST(Reader, RefusesHalvesOfSurrogatePairs) {
  for (const std::string_view text :
       {R"("\uD83D")", R"("\uDE00")", R"("\uD83Dx")", R"("\uD83D\n")", R"("\uD83D\u0061")",
        R"("\uDE00\uD83D")", R"("\uD83D\uD83D")", R"({"\uDE00":1})", R"("\uD83D\uDE0")"}) {
    EXPECT_FALSE(read(text)) << text;
  }
  EXPECT_EQ(*read(R"("\uD83D\uDE00")")->asString(), "\xF0\x9F\x98\x80");
}

TEST(Reader, RefusesBytesThatAreNotUtf8) {
  for (const std::string_view text :
       {"\"\xE9\""sv, "\"\xC0\x80\""sv, "\"\xED\xA0\x80\""sv, "\"\xF4\x90\x80\x80\""sv,
        "\"\xE2\x82\""sv, "\"\x80\""sv, "\"\xFF\""sv, "{\"\xE9\":1}"sv, "\xFF\xFE[\0]\0"sv,
        "\xFE\xFF\0[\0]"sv, "[\0]\0"sv}) {
    EXPECT_FALSE(read(text)) << testing::PrintToString(text);
  }
}

TEST(Reader, NamesAByteOrderMarkAndAnEmptyText) {
  EXPECT_EQ(refusal("\xEF\xBB\xBF{}"), "The text begins with a byte-order mark.");
  EXPECT_EQ(refusal(""), "There is nothing here: the text is empty.");
  EXPECT_EQ(refusal(" \r\n\t"), "There is nothing here: the text is empty.");
}

TEST(Reader, RefusesATextBeyondTheLimit) {
  Limits limits;
  limits.bytes = 4;
  EXPECT_TRUE(read("[12]", limits));
  EXPECT_FALSE(read("[123]", limits));
}

TEST(Reader, SaysWhereItStopped) {
  const Result<Value> value = read(R"({"legs":{"left":{"tcpo2":[1,2,x]}}})");
  ASSERT_FALSE(value);
  const Issue& issue = value.issues().front();
  EXPECT_EQ(issue.place, "/legs/left/tcpo2/2");
  EXPECT_EQ(issue.type, IssueType::Structure);
  EXPECT_NE(issue.text.find("(byte 31)"), std::string::npos) << issue.text;
}

TEST(Reader, KeepsTheOrderOfMembersAndTheSpanOfContainers) {
  constexpr std::string_view kText = R"( {"b":1, "a":[true , null], "":{} } )";
  const Result<Value> value = read(kText);
  ASSERT_TRUE(value);
  const Object& members = *value->asObject();
  ASSERT_EQ(members.size(), 3U);
  EXPECT_EQ(members[0].first + members[1].first + members[2].first, "ba");
  const Span span = members[1].second.span;
  EXPECT_EQ(kText.substr(span.begin, span.end - span.begin), "[true , null]");
  EXPECT_EQ(kText.substr(value->span.begin, value->span.end - value->span.begin),
            R"({"b":1, "a":[true , null], "":{} })");
}

/// The tree told again as events, to be compared with what the walk tells.
void tell(const Value& value, std::string& out) {
  if (const auto* members = value.asObject()) {
    out += '{';
    for (const auto& [name, member] : *members) {
      out += 'n' + name;
      tell(member, out);
    }
    out += '.';
  } else if (const auto* elements = value.asArray()) {
    out += '[';
    for (const Value& element : *elements) tell(element, out);
    out += '.';
  } else if (const std::string* text = value.asString()) {
    out += 't' + *text;
  } else {
    out += 'o';
  }
}

/// What the walk tells, in the same words.
std::string told(std::string_view text, bool& whole, const Limits& limits = {}) {
  std::string all;
  whole = walk(
      text,
      [&all](Part part, std::string_view content) {
        all += "{[.nto"[static_cast<std::size_t>(part)];
        all += content;
      },
      limits);
  return all;
}

bool walks(std::string_view text, const Limits& limits = {}) {
  bool whole = false;
  told(text, whole, limits);
  return whole;
}

TEST(Walk, TellsWhatTheTreeHolds) {
  for (const std::string_view text : {R"({})", R"([])", R"("a")", R"(1.50)", R"(null)",
                                      R"({"a":[1,true,"x\n\u00e9",{}],"b":{"c":[[]]}})",
                                      R"( {"a" : -1e3 , "b":"\uD83D\uDE00"} )"}) {
    const Result<Value> tree = read(text);
    ASSERT_TRUE(tree) << text;
    std::string wanted;
    tell(*tree, wanted);
    bool whole = false;
    EXPECT_EQ(told(text, whole), wanted) << text;
    EXPECT_TRUE(whole) << text;
  }
}

TEST(Walk, RefusesWhatTheReaderRefuses) {
  const std::string deep = std::string(40, '[') + std::string(40, ']');
  const std::string digits(65, '1');
  for (const std::string_view text :
       {""sv, " "sv, "{"sv, "[1,]"sv, "{\"a\":1}x"sv, "{}\0"sv, "\"a\0b\""sv, R"("a\u0000b")"sv,
        R"({"a\u0000b":1})"sv, R"("\uD83D")"sv, R"({"\uDE00":1})"sv, "\"\xE9\""sv,
        "\xEF\xBB\xBF{}"sv, std::string_view(deep), std::string_view(digits)}) {
    EXPECT_FALSE(read(text)) << testing::PrintToString(text);
    EXPECT_FALSE(walks(text)) << testing::PrintToString(text);
  }
  EXPECT_FALSE(walks("[1,2,3]", {.bytes = 6}));
  EXPECT_FALSE(walks(R"({"a":1,"b":2})", {.members = 1}));
  EXPECT_TRUE(walks(R"({"a":1,"a":2})")) << "names are not compared";
}

TEST(Value, LooksUpByNameAndNeverFails) {
  const Result<Value> value = read(R"({"a":"x","b":1,"c":null})");
  EXPECT_EQ(value->text("a"), "x");
  EXPECT_EQ(value->text("b"), "");
  EXPECT_EQ(value->text("none"), "");
  EXPECT_TRUE(value->member("c")->isNull());
  EXPECT_EQ(value->member("none"), nullptr);
  EXPECT_EQ(value->member("a")->member("x"), nullptr);
  EXPECT_EQ(value->typeName(), "an object");
}

TEST(Pointer, IsEscapedAsRfc6901Asks) {
  EXPECT_EQ(child("", "legs"), "/legs");
  EXPECT_EQ(child("/a", std::size_t{3}), "/a/3");
  EXPECT_EQ(child("", "m~n/o"), "/m~0n~1o");
}

// Named as in the collection of parsing tests at github.com/nst/JSONTestSuite: y has to be taken.
TEST(Table, TakesWhatRfc8259Allows) {
  for (const std::string_view text : {"[[]   ]"sv,
                                      "[\"\"]"sv,
                                      "[]"sv,
                                      "[\"a\"]"sv,
                                      "[false]"sv,
                                      "[null, 1, \"1\", {}]"sv,
                                      "[null]"sv,
                                      "[1\n]"sv,
                                      " [1]"sv,
                                      "[1,null,null,null,2]"sv,
                                      "[2] "sv,  // y_array
                                      "[123e65]"sv,
                                      "[0e+1]"sv,
                                      "[0e1]"sv,
                                      "[ 4]"sv,
                                      "[-0.000000000000000001]"sv,  // y_number
                                      "[20e1]"sv,
                                      "[-0]"sv,
                                      "[-123]"sv,
                                      "[-1]"sv,
                                      "[1E22]"sv,
                                      "[1E-2]"sv,
                                      "[1E+2]"sv,
                                      "[123e45]"sv,
                                      "[123.456e78]"sv,
                                      "[1e-2]"sv,
                                      "[1e+2]"sv,
                                      "[123]"sv,
                                      "[123.456789]"sv,
                                      "{\"asd\":\"sdf\", \"dfg\":\"fgh\"}"sv,
                                      "{}"sv,
                                      "{\"\":0}"sv,  // y_object
                                      "{\"min\": -1.0e+28, \"max\": 1.0e+28}"sv,
                                      "{\"a\":[]}"sv,
                                      "{\"title\":\"\\u041f\\u043e\"}"sv,
                                      "{\n\"a\": \"b\"\n}"sv,
                                      "[\"\\u0060\\u012a\\u12AB\"]"sv,
                                      "[\"\\uD801\\udc37\"]"sv,  // y_string
                                      "[\"\\ud83d\\ude39\\ud83d\\udc8d\"]"sv,
                                      "[\"\\\"\\\\\\/\\b\\f\\n\\r\\t\"]"sv,
                                      "[\"\\\\u0000\"]"sv,
                                      "[\"\\\"\"]"sv,
                                      "[\"a/*b*/c/*d//e\"]"sv,
                                      "[\"\\\\a\"]"sv,
                                      "[\"\\\\n\"]"sv,
                                      "[\"\\u0012\"]"sv,
                                      "[\"\\uFFFF\"]"sv,
                                      "[\"asd\"]"sv,
                                      "[ \"asd\"]"sv,
                                      "[\"\\uDBFF\\uDFFF\"]"sv,
                                      "[\"new\\u00A0line\"]"sv,
                                      "[\"\xF4\x8F\xBF\xBF\"]"sv,
                                      "[\"\xEF\xBF\xBF\"]"sv,
                                      "[\"\\u002c\"]"sv,
                                      "[\"\xCF\x80\"]"sv,
                                      "\" \""sv,
                                      "[\"\\u0821\"]"sv,
                                      "[\"\\u0123\"]"sv,
                                      "[\"\xE2\x80\xA8\"]"sv,
                                      "[\"\xE2\x80\xA9\"]"sv,
                                      "[\"\\u0061\\u30af\\u30EA\\u30b9\"]"sv,
                                      "[\"new\\u000Aline\"]"sv,
                                      "[\"\x7F\"]"sv,
                                      "[\"\\uA66D\"]"sv,
                                      "[\"\xE2\x8D\x82\xE3\x88\xB4\"]"sv,
                                      "[\"\\u005C\"]"sv,
                                      "[\"\\u0022\"]"sv,
                                      "[\"\\uFFFE\"]"sv,
                                      "[\"\\u200B\"]"sv,
                                      "[\"\\u2064\"]"sv,
                                      "[\"\\uFDD0\"]"sv,
                                      "[\"a\x7F"
                                      "a\"]"sv,
                                      "false"sv,
                                      "42"sv,
                                      "-0.1"sv,
                                      "null"sv,
                                      "\"asd\""sv,
                                      "true"sv,
                                      "\"\""sv,  // y_structure
                                      "[\"a\"]\n"sv,
                                      "[true]"sv,
                                      " [] "sv}) {
    EXPECT_TRUE(read(text)) << text << ": " << refusal(text);
  }
}

// ... and n has to be refused.
TEST(Table, RefusesWhatRfc8259Forbids) {
  for (const std::string_view text :
       {"[1 true]"sv, "[a\xE5]"sv, "[\"\": 1]"sv, "[\"\"],"sv, "[,1]"sv, "[1,,2]"sv,  // n_array
        "[\"x\",,]"sv, "[\"x\"]]"sv, "[\"\",]"sv, "[\"x\""sv, "[x"sv, "[3[4]]"sv, "[\xFF]"sv,
        "[1:2]"sv, "[,]"sv, "[-]"sv, "[   , \"\"]"sv, "[\"a\",\n4\n,1,"sv, "[1,]"sv,
        "[\"\va\"\\f]"sv, "[*]"sv, "[\"\""sv, "[1,"sv, "[1,\n1\n,1"sv, "[{}"sv, "[fals]"sv,
        "[nul]"sv, "[tru]"sv,                                                   // n_incomplete
        "[++1234]"sv, "[+1]"sv, "[+Inf]"sv, "[-01]"sv, "[-1.0.]"sv, "[-2.]"sv,  // n_number
        "[-NaN]"sv, "[.-1]"sv, "[.2e-3]"sv, "[0.1.2]"sv, "[0.3e+]"sv, "[0.3e]"sv, "[0.e1]"sv,
        "[0E+]"sv, "[0E]"sv, "[0e+]"sv, "[0e]"sv, "[1.0e+]"sv, "[1.0e-]"sv, "[1.0e]"sv,
        "[1 000.0]"sv, "[1eE2]"sv, "[2.e+3]"sv, "[2.e-3]"sv, "[2.e3]"sv, "[9.e+]"sv, "[Inf]"sv,
        "[NaN]"sv, "[\xEF\xBC\x91]"sv, "[1+2]"sv, "[0x1]"sv, "[0x42]"sv, "[Infinity]"sv,
        "[0e+-1]"sv, "[-123.123foo]"sv, "[123\xE5]"sv, "[1e1\xE5]"sv, "[0\xE5]"sv, "[-Infinity]"sv,
        "[-foo]"sv, "[- 1]"sv, "[-012]"sv, "[-.123]"sv, "[-1x]"sv, "[1ea]"sv, "[1e\xE5]"sv,
        "[1.]"sv, "[.123]"sv, "[1.2a-3]"sv, "[1.8011670033376514H-308]"sv, "[012]"sv, "[00]"sv,
        "[1e0x]"sv, "[\"x\", truth]"sv, "{[: \"x\"}\n"sv, "{\"x\", null}"sv,
        "{\"x\"::\"b\"}"sv,  // n_object
        "{\"a\":\"a\" 123}"sv, "{key: 'value'}"sv, "{\"\xB9\":\"0\",}"sv, "{\"a\" b}"sv,
        "{:\"b\"}"sv, "{\"a\" \"b\"}"sv, "{\"a\":"sv, "{\"a\""sv, "{1:1}"sv, "{9999E9999:1}"sv,
        "{null:null,null:null}"sv, "{\"id\":0,,,,,}"sv, "{'a':0}"sv, "{\"id\":0,}"sv,
        "{\"a\":\"b\"}/**/"sv, "{\"a\":\"b\"}/**//"sv, "{\"a\":\"b\"}//"sv, "{\"a\":\"b\"}/"sv,
        "{\"a\":\"b\",,\"c\":\"d\"}"sv, "{a: \"b\"}"sv, "{\"a\":\"a"sv,
        "{ \"foo\" : \"bar\", \"a\" }"sv, "{\"a\":\"b\"}#"sv, "{\"a\":1 \"b\":2}"sv, " "sv,
        "[\"\\uD800\\\"]"sv, "[\"\\uD800\\u\"]"sv, "[\"\\uD800\\u1\"]"sv,  // n_string
        "[\"\\uD800\\u1x\"]"sv, "[\xC3\xA9]"sv, "[\"\\x00\"]"sv, "[\"\\\\\\\"]"sv, "[\"\\\t\"]"sv,
        "[\"\\\xF0\x9F\x8C\x80\"]"sv, "[\"\\\"]"sv, "[\"\\u00A\"]"sv, "[\"\\uD834\\uDd\"]"sv,
        "[\"\\uD800\\uD800\\x\"]"sv, "[\"\\u\xE5\"]"sv, "[\"\\a\"]"sv, "[\"\\uqqqq\"]"sv,
        "[\"\\\xE5\"]"sv, "[\\u0020\"asd\"]"sv, "[\\n]"sv, "\""sv, "['single quote']"sv, "abc"sv,
        "[\"\\"sv, "[\"a\0a\"]"sv, "[\"new\nline\"]"sv, "[\"\t\"]"sv, "\"\\UA66D\""sv, "\"\"x"sv,
        "[\"\x1F\"]"sv, "[\xE2\x81\xA0]"sv, "\xEF\xBB\xBF"sv, "<.>"sv, "[<null>]"sv,
        "[1]x"sv,  // n_structure
        "[1]]"sv, "[\"asd]"sv, "a\xC3\xA5"sv, "[True]"sv, "1]"sv, "{\"x\": true,"sv, "[][]"sv,
        "]"sv, "\xEF\xBB{}"sv, "\xE5"sv, "["sv, "[\0]"sv, "2@"sv, "{}}"sv, "{\"\":"sv,
        "{\"a\":/*comment*/\"b\"}"sv, "{\"a\": true} \"x\""sv, "['"sv, "[,"sv, "[{"sv, "[\"a"sv,
        "[\"a\""sv, "{"sv, "{]"sv, "{,"sv, "{["sv, "{\"a"sv, "{'a'"sv, "[\"\\{[\"\\{[\"\\{[\"\\{"sv,
        "*"sv, "{\"a\":\"b\"}#{}"sv, "[\\u000A\"\"]"sv, "[1"sv, "[ false, nul"sv, "[ true, fals"sv,
        "[ false, tru"sv, "{\"asd\":\"asd\""sv, "\xC3\xA5"sv, "[\f]"sv, "[\x0B]"sv, "[\xC2\xA0]"sv,
        "-"sv, "tru"sv, "nulll"sv,
        // taken by many readers, and refused here on purpose: see Reader
        "{\"a\":\"b\",\"a\":\"c\"}"sv, "[\"\\u0000\"]"sv, "{\"foo\\u0000bar\": 42}"sv,
        "\xEF\xBB\xBF{}"sv, "[\"\\uDd1e\\uD834\"]"sv, "[\"\\uDADA\"]"sv}) {
    EXPECT_FALSE(read(text)) << testing::PrintToString(text);
  }
}

/// In a short text and in a long one, of which many bytes are looked at at once.
TEST(Reader, RefusesEveryControlCharacterInATextAndSaysWhere) {
  for (char control = 0x01; control < 0x20; ++control) {
    for (const std::size_t before : {0U, 3U, 40U}) {
      const std::string text =
          "[\"" + std::string(before, 'x') + std::string(1, control) + std::string(40, 'y') + "\"]";
      const auto value = read(text);
      ASSERT_FALSE(value) << int{control} << " after " << before;
      EXPECT_NE(value.issues().front().text.find("byte " + std::to_string(before + 3) + ")"),
                std::string::npos)
          << value.issues().front().text;
      EXPECT_FALSE(walk(text, [](Part, std::string_view) {}));
    }
  }
  EXPECT_TRUE(read("[\"\x7F\"]"));  // of which RFC 8259 says nothing
}

}  // namespace
}  // namespace footbridge::json
