// CSV by RFC 4180, byte by byte.

#include "csv/tokenizer.hpp"

#include <gtest/gtest.h>

#include <sstream>

#include "csv/rows.hpp"

namespace footbridge::csv {
namespace {

using Cells = std::vector<std::string>;

std::vector<Record> records(const std::string& bytes, char delimiter = ',') {
  Tokenizer tokenizer(delimiter);
  std::vector<Record> out;
  std::string rest = bytes;
  for (std::size_t i = 0; i <= rest.size(); ++i) {
    const bool done = i < rest.size() ? tokenizer.take(rest[i]) : tokenizer.finish();
    if (!done) continue;
    out.push_back(tokenizer.record());
    const std::string back = tokenizer.takeBack();
    if (back.empty()) continue;
    rest = back + rest.substr(std::min(i + 1, rest.size()));
    i = static_cast<std::size_t>(-1);
  }
  return out;
}

struct Line {
  std::string_view name;
  std::string bytes;
  std::vector<Cells> wanted;
};

std::ostream& operator<<(std::ostream& out, const Line& line) { return out << line.name; }

class TokenizerCase : public testing::TestWithParam<Line> {};
TEST_P(TokenizerCase, GivesTheCells) {
  std::vector<Cells> cells;
  for (const Record& record : records(GetParam().bytes)) {
    EXPECT_EQ(record.fault, Fault::None);
    cells.push_back(record.cells);
  }
  EXPECT_EQ(cells, GetParam().wanted);
}
// RFC 4180 section 2, rules 1 to 7, and what spreadsheets do beside them.
INSTANTIATE_TEST_SUITE_P(
    Rfc4180, TokenizerCase,
    testing::Values(Line{"nothing", "", {}}, Line{"one cell", "a", {{"a"}}},
                    Line{"lines", "a,b\r\nc,d\r\n", {{"a", "b"}, {"c", "d"}}},
                    Line{"no end of line at the end", "a,b\r\nc,d", {{"a", "b"}, {"c", "d"}}},
                    Line{"line feeds alone", "a\nb\n", {{"a"}, {"b"}}},
                    Line{"empty cells", ",,\r\n", {{"", "", ""}}},
                    Line{"blanks are kept", " a , b \n", {{" a ", " b "}}},
                    Line{"quoted", "\"a\",\"b\"\r\n", {{"a", "b"}}},
                    Line{"separator, line end and quote in quotes",
                         "\"a,b\r\n\"\"c\"\"\",d\r\n",
                         {{"a,b\r\n\"c\"", "d"}}},
                    Line{"empty quotes", "\"\",x\n\"\"\n", {{"", "x"}, {""}}},
                    Line{"quote within a plain cell", "5\" cuff,x\n", {{"5\" cuff", "x"}}},
                    Line{"return within a plain cell", "a\rb,c\n", {{"a\rb", "c"}}},
                    Line{"quoted to the end of the file", "\"a\"", {{"a"}}},
                    Line{"NUL and high bytes",
                         std::string("a\0b,\xFF\n", 6),
                         {{std::string("a\0b", 3), "\xFF"}}}),
    [](const auto& tested) { return "Case" + std::to_string(tested.index); });

TEST(Tokenizer, TakesOtherDelimiters) {
  EXPECT_EQ(records("a;b,c\n", ';').front().cells, (Cells{"a", "b,c"}));
  EXPECT_EQ(records("a\tb\n", '\t').front().cells, (Cells{"a", "b"}));
}

TEST(Tokenizer, KeepsTheBytesOfEachRecord) {
  const std::string bytes = "a,\"b\r\nc\"\r\nd\n\n e";
  std::string all;
  for (const Record& record : records(bytes)) all += record.raw;
  EXPECT_EQ(all, bytes);
}

TEST(Tokenizer, SaysTheLineOfEachRecord) {
  const std::vector<Record> all = records("a\n\"b\nc\"\nd\n");
  ASSERT_EQ(all.size(), 3U);
  EXPECT_EQ(all[0].line, 1U);
  EXPECT_EQ(all[1].line, 2U);
  EXPECT_EQ(all[2].line, 4U);
}

TEST(Tokenizer, LosesOneLineToAnOpenQuotationMark) {
  const std::vector<Record> all = records("a,\"b\nc,d\ne,f\n");
  ASSERT_EQ(all.size(), 3U);
  EXPECT_EQ(all[0].fault, Fault::QuoteOpen);
  EXPECT_EQ(all[0].raw, "a,\"b\n");
  EXPECT_EQ(all[0].faultLine, 1U);
  EXPECT_EQ(all[0].faultColumn, 3U);
  EXPECT_EQ(all[1].cells, (Cells{"c", "d"}));
  EXPECT_EQ(all[1].line, 2U);
  EXPECT_EQ(all[2].line, 3U);
}

TEST(Tokenizer, LosesOneLineToAQuotationMarkThatPairsWithALaterOne) {
  const std::vector<Record> all = records("a,\"b\nc,d\n\"e\",f\n");
  ASSERT_EQ(all.size(), 3U);
  EXPECT_EQ(all[0].fault, Fault::QuoteAfter);
  EXPECT_EQ(all[0].raw, "a,\"b\n");
  EXPECT_EQ(all[2].cells, (Cells{"e", "f"}));
}

TEST(Tokenizer, BoundsARecordWithoutEnd) {
  const std::string open = "\"" + std::string(2 * Tokenizer::kRecordLimit, 'x') + "\na,b\n";
  const std::vector<Record> all = records(open);
  ASSERT_EQ(all.size(), 2U);
  EXPECT_EQ(all[0].fault, Fault::QuoteOpen);
  EXPECT_EQ(all[0].raw.size(), Tokenizer::kRecordLimit);
  EXPECT_EQ(all[1].cells, (Cells{"a", "b"}));
  const std::vector<Record> plain =
      records(std::string(Tokenizer::kRecordLimit + 9, 'x') + "\na\n");
  ASSERT_EQ(plain.size(), 2U);
  EXPECT_EQ(plain[0].fault, Fault::TooLong);
}

TEST(Tokenizer, GivesBackLinesBehindAQuotationMarkThatOpensAVeryLongRecord) {
  std::string bytes = "\"a\n";
  const std::size_t lines = 2 * Tokenizer::kRecordLimit / 4;
  for (std::size_t i = 0; i < lines; ++i) bytes += "b,c\n";
  const std::vector<Record> all = records(bytes);
  ASSERT_EQ(all.size(), lines + 1);
  EXPECT_EQ(all[0].fault, Fault::QuoteOpen);
  EXPECT_EQ(all.back().cells, (Cells{"b", "c"}));
}

TEST(Rows, NumbersAsASpreadsheetDoes) {
  std::istringstream in("\xEF\xBB\xBFsep=;\r\n\"a;1\";b\r\n\r\n;\r\nc;d\r\n");
  Rows rows(in, ';');
  const std::optional<Numbered> header = rows.next();
  ASSERT_TRUE(header);
  EXPECT_EQ(header->number, 1U);
  EXPECT_EQ(header->record.cells, (Cells{"a;1", "b"}));
  EXPECT_EQ(header->record.raw, "\xEF\xBB\xBFsep=;\r\n\"a;1\";b\r\n");
  const std::optional<Numbered> row = rows.next();
  ASSERT_TRUE(row);
  EXPECT_EQ(row->number, 4U);
  EXPECT_FALSE(rows.next());
}

TEST(Rows, TakesTheMarkOffAQuotedHeader) {
  std::istringstream in("\xEF\xBB\xBF\"a\",b\n");
  Rows rows(in, ',');
  EXPECT_EQ(rows.next()->record.cells, (Cells{"a", "b"}));
}

}  // namespace
}  // namespace footbridge::csv
