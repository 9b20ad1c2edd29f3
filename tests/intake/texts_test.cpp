// How an input is cut into one text an assessment, and that it is not held while it is.

#include "intake/texts.hpp"

#include <gtest/gtest.h>
#include <malloc.h>

#include <sstream>
#include <streambuf>

#include "intake_cases.hpp"

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
// Part of the sanitizers' interface; its header does not come with GCC 12.
extern "C" std::size_t __sanitizer_get_current_allocated_bytes();
#endif

namespace footbridge::test {
namespace {

using intake::Layout;
using intake::Text;
using intake::Texts;

std::vector<Text> cut(const std::string& bytes, Layout layout = Layout::Detect) {
  std::istringstream in(bytes);
  Texts texts(in, "in", layout);
  std::vector<Text> out;
  while (std::optional<Text> text = texts.next()) out.push_back(*std::move(text));
  return out;
}

/// What is cut out of an input: "name|bytes" of each, "name!rule" of what could not be taken.
struct CutCase {
  std::string_view name;
  Layout layout;
  std::string bytes;
  std::vector<std::string> texts;
};

std::ostream& operator<<(std::ostream& out, const CutCase& value) { return out << value.name; }

constexpr Layout kDetect = Layout::Detect;
constexpr Layout kLines = Layout::Lines;

std::vector<CutCase> cutCases() {
  return {
      {"one object over several lines", kDetect, "{\n \"a\": 1\n}\n", {"in|{\n \"a\": 1\n}"}},
      {"one object after blank lines", kDetect, "\n\r\n{\"a\":\n1}", {"in|{\"a\":\n1}"}},
      {"one object in one line", kDetect, "{\"a\":1}", {"in:1|{\"a\":1}"}},
      {"objects a line, found out by the first",
       kDetect,
       "{\"a\":1}\n{\"a\":2}\n",
       {"in:1|{\"a\":1}", "in:2|{\"a\":2}"}},
      {"a last line without its end",
       kDetect,
       "{\"a\":1}\n{\"a\":2}",
       {"in:1|{\"a\":1}", "in:2|{\"a\":2}"}},
      {"lines that end as on another system",
       kDetect,
       "{\"a\":1}\r\n{\"a\":2}\r\n",
       {"in:1|{\"a\":1}\r", "in:2|{\"a\":2}\r"}},
      {"blank lines between, counted",
       kDetect,
       "\n{\"a\":1}\n\n  \n{\"a\":2}\n\n",
       {"in:2|{\"a\":1}", "in:5|{\"a\":2}"}},
      {"a broken line in the middle keeps the rest",
       kDetect,
       "{\"a\":1}\n{\"a\":\n{\"a\":3}\n",
       {"in:1|{\"a\":1}", "in:2|{\"a\":", "in:3|{\"a\":3}"}},
      {"a line that is no object keeps the rest",
       kDetect,
       "{\"a\":1}\nhello\n{\"a\":3}\n",
       {"in:1|{\"a\":1}", "in:2|hello", "in:3|{\"a\":3}"}},
      {"a first line that is broken, told to be lines",
       kLines,
       "{\"a\":\n{\"a\":2}\n",
       {"in:1|{\"a\":", "in:2|{\"a\":2}"}},
      {"an object over several lines, told to be lines", kLines, "{\n}\n", {"in:1|{", "in:2|}"}},
      {"a list, told to be lines, is a text for the reader to refuse",
       kLines,
       "[{\"a\":1}]",
       {"in:1|[{\"a\":1}]"}},
      {"a list",
       kDetect,
       "[{\"a\": 1}, {\"b\": [{}]}]",
       {"in[0]|{\"a\": 1}", "in[1]|{\"b\": [{}]}"}},
      {"a list over several lines",
       kDetect,
       "[\n{\"a\":\n1}\n,\n{}\n]\n",
       {"in[0]|{\"a\":\n1}", "in[1]|{}"}},
      {"a list with elements that are no objects",
       kDetect,
       "[1, {\"a\": 1}, null, [], \"x\"]",
       {"in[0]!intake-type", "in[1]|{\"a\": 1}", "in[2]!intake-type", "in[3]!intake-type",
        "in[4]!intake-type"}},
      {"a list that is broken", kDetect, "[{\"a\": 1}, {]", {"in!json-syntax"}},
      {"an empty list", kDetect, "[]", {"in!intake-nothing"}},
      {"a byte-order mark before an object", kDetect, "\xEF\xBB\xBF{\"a\":1}", {"in:1|{\"a\":1}"}},
      {"a byte-order mark before a list", kDetect, "\xEF\xBB\xBF[{}]", {"in[0]|{}"}},
      {"a byte-order mark further down is left to the reader",
       kLines,
       "{}\n\xEF\xBB\xBF{}",
       {"in:1|{}", "in:2|\xEF\xBB\xBF{}"}},
      {"nothing", kDetect, "", {"in!intake-nothing"}},
      {"nothing, told to be lines", kLines, "", {"in!intake-nothing"}},
      {"blank lines only", kDetect, " \n\t\n\r\n", {"in!intake-nothing"}},
      {"a NUL", kDetect, std::string("\0", 1), {std::string("in|\0", 4)}},
      {"what is no JSON is passed on whole", kDetect, "hello\nworld", {"in|hello\nworld"}},
  };
}

std::vector<std::string> told(const std::vector<Text>& texts) {
  std::vector<std::string> out;
  for (const Text& text : texts) {
    out.push_back(text.issues.empty() ? text.name + "|" + text.bytes
                                      : text.name + "!" + text.issues.front().rule);
  }
  return out;
}

class Cut : public testing::TestWithParam<CutCase> {};
TEST_P(Cut, GivesTheseTexts) {
  EXPECT_EQ(told(cut(GetParam().bytes, GetParam().layout)), GetParam().texts);
}
INSTANTIATE_TEST_SUITE_P(Table, Cut, testing::ValuesIn(cutCases()),
                         [](const auto& line) { return testName(line.param.name, line.index); });

TEST(Texts, EndAndStayEnded) {
  std::istringstream in("{}\n");
  Texts texts(in, "in", Layout::Detect);
  EXPECT_TRUE(texts.next());
  EXPECT_FALSE(texts.next());
  EXPECT_FALSE(texts.next());
}

TEST(Texts, SayThatThereWasNothingOnlyOnce) {
  std::istringstream in("");
  Texts texts(in, "in", Layout::Detect);
  EXPECT_TRUE(texts.next());
  EXPECT_FALSE(texts.next());
}

TEST(Texts, GiveTheElementsOfAListAsTheyWouldStandAlone) {
  const std::string good(goodDocument());
  const std::vector<Text> texts = cut("[" + good + ",\n" + good + "]");
  ASSERT_EQ(texts.size(), 2U);
  EXPECT_EQ(texts[0].bytes, good);
  EXPECT_EQ(texts[1].bytes, good);
}

TEST(Texts, RefuseALineThatIsTooLongAndKeepTheRest) {
  const std::string longest = "{\"a\":\"" + std::string(Texts::kLineLimit - 8, 'x') + "\"}";
  ASSERT_EQ(longest.size(), Texts::kLineLimit);
  const std::vector<Text> texts = cut("{}\n" + longest + "\n" + longest + " \n{}\n");
  ASSERT_EQ(texts.size(), 4U);
  EXPECT_EQ(texts[1].bytes, longest);
  EXPECT_TRUE(texts[1].issues.empty());
  ASSERT_EQ(texts[2].issues.size(), 1U);
  EXPECT_EQ(texts[2].issues[0].type, IssueType::TooLong);
  EXPECT_EQ(texts[2].issues[0].text, "One text is larger than 8 MB.");
  EXPECT_EQ(texts[3].name, "in:4");
  EXPECT_TRUE(texts[3].issues.empty());
}

TEST(Texts, RefuseAFirstLineThatIsTooLong) {
  const std::vector<Text> texts =
      cut("{\"a\":\"" + std::string(Texts::kLineLimit, 'x') + "\"}\n{}\n");
  ASSERT_EQ(texts.size(), 2U);
  EXPECT_EQ(texts[0].issues.size(), 1U);
  EXPECT_EQ(texts[1].bytes, "{}");
}

TEST(Texts, RefuseAWholeTextThatIsTooLarge) {
  std::string bytes = "[\n";
  bytes.append(Texts::kTextLimit, ' ');
  const std::vector<Text> texts = cut(bytes + "\n{}]");
  ASSERT_EQ(texts.size(), 1U);
  ASSERT_EQ(texts[0].issues.size(), 1U);
  EXPECT_EQ(texts[0].issues[0].text, "One text is larger than 64 MB.");
}

/// Lines made as they are asked for, none of them ever kept: what is held is held by the reader.
class Endless : public std::streambuf {
 public:
  explicit Endless(std::size_t lines) : left_(lines) { line_ = edited(goodDocument(), {}) + "\n"; }

  std::size_t given() const { return given_; }
  std::size_t lineLength() const { return line_.size(); }

 protected:
  int_type underflow() override {
    if (left_ == 0) return traits_type::eof();
    --left_;
    ++given_;
    setg(line_.data(), line_.data(), line_.data() + line_.size());
    return traits_type::to_int_type(line_.front());
  }

 private:
  std::string line_;
  std::size_t left_;
  std::size_t given_ = 0;
};

std::size_t bytesHeld() {
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
  return __sanitizer_get_current_allocated_bytes();
#else
  return mallinfo2().uordblks;
#endif
}

TEST(Texts, HoldOneLineAtATimeOfAHundredThousand) {
  constexpr std::size_t kCount = 100'000;
  Endless source(kCount);
  std::istream in(&source);
  Texts texts(in, "in", Layout::Detect);
  const std::size_t before = bytesHeld();
  std::size_t most = 0;
  std::size_t count = 0;
  std::size_t ahead = 0;
  while (const std::optional<Text> text = texts.next()) {
    ++count;
    ahead = std::max(ahead, source.given() - count);
    if (count % 100 == 0) most = std::max(most, bytesHeld());
    ASSERT_EQ(text->bytes.size() + 1, source.lineLength());
  }
  EXPECT_EQ(count, kCount);
  EXPECT_EQ(ahead, 0U) << "a line was read before it was asked for";
  EXPECT_LT(most, before + 4 * source.lineLength()) << "more than the line in hand is held";
}

}  // namespace
}  // namespace footbridge::test
