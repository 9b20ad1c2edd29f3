// Tables read through source maps: what becomes of whole rows, and that nothing is lost.

#include <gtest/gtest.h>

#include <sstream>

#include "csv/clock.hpp"
#include "csv/decode.hpp"
#include "csv/places.hpp"
#include "csv/reader.hpp"
#include "csv_cases.hpp"

namespace footbridge::test {
namespace {

constexpr auto kVisits = CsvCase::Layout::Visits;
constexpr auto kReadings = CsvCase::Layout::Readings;

TEST(Csv, OneRowIsOneAssessment) {
  const std::vector<std::string> texts = textsOfTable(goodMap(kVisits), goodTable(kVisits));
  ASSERT_EQ(texts.size(), 1U);
  EXPECT_EQ(
      texts[0],
      R"({"identifier":{"system":"https://clinic.example/assessments","value":"V1"},)"
      R"("patient":{"identifiers":[{"system":"https://clinic.example/patients","value":"P1"}],)"
      R"("family":"Invented","given":["Ada"],"birthDate":"1951-04-12"},)"
      R"("performer":{"name":"B. Nurse"},)"
      R"("legs":{"right":{"ankle":{"dorsalisPedis":112},"doppler":{"dorsalisPedis":"triphasic"},)"
      R"("pulses":{"femoral":{"grade":2,"scale":"0-3"}}}},)"
      R"("measuredAt":"2026-10-05T10:20:00+01:00","status":"final",)"
      R"("organization":{"name":"Clinic"},"format":"footbridge-assessment-1"})");
}

TEST(Csv, RowsOfOneReadingAreGathered) {
  const std::vector<std::string> texts = textsOfTable(
      goodMap(kReadings), swapped(goodTable(kReadings), {{"138;mmHg;", "138;mmHg;after a rest"}}));
  ASSERT_EQ(texts.size(), 2U);
  EXPECT_NE(texts[0].find(R"("arms":{"right":{"systolic":{"value":17.6,"unit":"kPa"}}})"),
            std::string::npos)
      << texts[0];
  EXPECT_NE(texts[0].find(R"("legs":{"left":{"ankle":{"dorsalisPedis":112}}})"), std::string::npos);
  EXPECT_NE(texts[1].find(R"("systolic":{"value":138,"note":"after a rest"})"), std::string::npos);
}

struct CellLine {
  std::string_view cell;
  std::string_view reading;  ///< "" if there is none
};

class Cell : public testing::TestWithParam<CellLine> {};
TEST_P(Cell, IsReadAsDocumented) {
  const std::string cell = "," + std::string(GetParam().cell) + ",";
  const std::vector<std::string> texts =
      textsOfTable(swapped(goodMap(kVisits), {{"[words]",
                                               "[words]\n\"-\" = \"\"\n\"300!\" = { finding = "
                                               "\"incompressible\", limit = 300 }"}}),
                   swapped(goodTable(kVisits), {{",112,", cell}}));
  ASSERT_EQ(texts.size(), 1U);
  const std::string wanted = "\"dorsalisPedis\":" + std::string(GetParam().reading);
  const std::size_t ankle = texts[0].find("\"ankle\"");
  if (GetParam().reading.empty()) {
    EXPECT_EQ(ankle, std::string::npos) << texts[0];
  } else {
    ASSERT_NE(ankle, std::string::npos) << texts[0];
    EXPECT_EQ(texts[0].substr(ankle + 9, wanted.size()), wanted) << texts[0];
  }
}
// docs/source-maps.md, "What a cell may hold".
INSTANTIATE_TEST_SUITE_P(
    Pressure, Cell,
    testing::Values(CellLine{"112", "112"}, CellLine{" 112.50 ", "112.50"}, CellLine{"0112", "112"},
                    CellLine{"112 mmHg", "112"}, CellLine{"", ""}, CellLine{"  ", ""},
                    CellLine{"-", ""}, CellLine{">300", R"({"value":300,"comparator":">"})"},
                    CellLine{"< 40", R"({"value":40,"comparator":"<"})"},
                    CellLine{"300+", R"({"value":300,"comparator":">="})"},
                    CellLine{"\xE2\x89\xA5 300 mmHg", R"({"value":300,"comparator":">="})"},
                    CellLine{"300!", R"({"finding":"incompressible","limit":300})"},
                    CellLine{"Incompressible", R"({"finding":"incompressible"})"},
                    CellLine{"no signal", R"({"finding":"no-signal"})"},
                    CellLine{"Np", R"({"absent":"not-performed"})"},
                    CellLine{"Asked declined", R"({"absent":"asked-declined"})"}),
    [](const auto& tested) { return "Case" + std::to_string(tested.index); });

TEST(Csv, AnEmptyCellIsNothingRecordedAndNeverNormal) {
  const std::vector<std::string> texts =
      textsOfTable(goodMap(kVisits), swapped(goodTable(kVisits), {{",112,tri,2+", ",,,"}}));
  ASSERT_EQ(texts.size(), 1U);
  EXPECT_EQ(texts[0].find("legs"), std::string::npos);
}

std::string momentIn(const std::string& text) {
  const std::size_t at = text.find("\"measuredAt\":\"");
  return at == std::string::npos ? "" : text.substr(at + 14, 25);
}

TEST(Csv, TheHourThatComesTwiceIsSettledByTheMap) {
  const std::string table =
      swapped(goodTable(kVisits), {{"05/10/2026", "25/10/2026"}, {"10:20", "01:30"}});
  const auto settled = [&table](const std::string& how) {
    const std::string map =
        swapped(goodMap(kVisits), {{"[file]", "[file]\noverlap = \"" + how + "\""}});
    return momentIn(textsOfTable(map, table).at(0));
  };
  EXPECT_EQ(settled("earlier"), "2026-10-25T01:30:00+01:00");
  EXPECT_EQ(settled("later"), "2026-10-25T01:30:00+00:00");
}

TEST(Csv, AMomentWithItsOffsetNeedsNoZone) {
  const std::vector<std::string> texts =
      textsOfTable(swapped(goodMap(kReadings), {{"zone = \"Europe/London\"\n", ""}}),
                   swapped(goodTable(kReadings), {{"2026-10-05 10:20", "2026-10-05T10:20:00+02:00"},
                                                  {"2026-10-05 11:20", "2026-10-05T11:20:00Z"}}));
  ASSERT_EQ(texts.size(), 2U);
  EXPECT_EQ(momentIn(texts[0]), "2026-10-05T10:20:00+02:00");
}

TEST(Csv, AStatedTimeIsSaidSo) {
  const std::string map = swapped(goodMap(kVisits), {{"[file]", "[file]\ntime = \"12:00\""}});
  const std::vector<std::string> texts =
      textsOfTable(map, swapped(goodTable(kVisits), {{"10:20", ""}}));
  EXPECT_EQ(momentIn(texts.at(0)), "2026-10-05T12:00:00+01:00");
  EXPECT_NE(texts.at(0).find("time of day was not recorded"), std::string::npos);
}

/// The identifier made of patient and moment.
std::string identifierIn(const std::string& text) {
  const std::size_t at = text.find("/assessments\",\"value\":\"");
  return at == std::string::npos ? "" : text.substr(at + 23, 36);
}

TEST(Csv, AnIdentifierMadeOfPatientAndTimeIsTheSameInEveryFile) {
  const std::string map =
      swapped(goodMap(kVisits), {{"[file]", "[file]\nidentify = \"patient-and-time\""},
                                 {"\"Visit\" = \"identifier\"", "\"Visit\" = \"ignore\""}});
  const auto of = [&map](const std::vector<Swap>& swaps) {
    return identifierIn(textsOfTable(map, swapped(goodTable(kVisits), swaps)).at(0));
  };
  const std::string first = of({});
  EXPECT_EQ(first.size(), 36U);
  EXPECT_EQ(of({{"112", "118"}, {"05/10/2026", "5/10/2026"}, {"10:20", "10.20"}}), first);
  EXPECT_NE(of({{"10:20", "10:21"}}), first);
  EXPECT_NE(of({{"P1", "P2"}}), first);
}

TEST(Csv, ADefaultPersonNeverMixesWithTheOneOfTheRow) {
  const std::string map = swapped(
      goodMap(kVisits),
      {{"status = \"final\"",
        "status = \"final\"\nperformer = { name = \"A. Other\", role = \"nurse\", identifier = { "
        "system = \"urn:x\", value = \"7\" } }"}});
  EXPECT_NE(textsOfTable(map, goodTable(kVisits))
                .at(0)
                .find(R"("performer":{"name":"B. Nurse","role":"nurse"})"),
            std::string::npos);
  EXPECT_NE(textsOfTable(map, swapped(goodTable(kVisits), {{"B. Nurse", ""}}))
                .at(0)
                .find(R"("name":"A. Other")"),
            std::string::npos);
}

TEST(Csv, AllFaultsOfAMapComeAtOnce) {
  const std::string map = swapped(goodMap(kVisits), {{"zone =", "zon ="},
                                                     {"legs.right.ankle", "legs.right.ancle"},
                                                     {"\"triphasic\"", "\"threephasic\""},
                                                     {"performer.name", "performer.nam"}});
  const Issues issues = issuesOfTable(map, goodTable(kVisits));
  for (const std::string_view rule :
       {"intake-member-unknown", "csv-map-path", "csv-map-word", "csv-map-needs"}) {
    EXPECT_FALSE(ofRule(issues, rule).empty()) << rule << "\n" << listed(issues);
  }
  EXPECT_EQ(ofRule(issues, "csv-map-path").size(), 2U);
  EXPECT_NE(ofRule(issues, "intake-member-unknown").front().mend.find("\"zone\""),
            std::string::npos);
}

TEST(Csv, ARowThatCannotBeReadTakesBothNeighboursAlong) {
  const std::string table = swapped(
      goodTable(kReadings), {{"V1;P1;2026-10-05 10:20;B. Nurse;DP;li;112;mmHg;", "V1,P1,broken"}});
  const Issues issues = issuesOfTable(goodMap(kReadings), table);
  EXPECT_EQ(ofRule(issues, "csv-cells-few").size(), 1U);
  EXPECT_EQ(ofRule(issues, "csv-neighbour").size(), 1U);
  EXPECT_TRUE(
      ofRule(issuesOfTable(goodMap(kReadings), goodTable(kReadings)), "csv-neighbour").empty());
}

TEST(Csv, AVisitWhoseRowsStandApartIsSetAsideWhole) {
  const std::string arm = "V1;P1;2026-10-05 10:20;B. Nurse;Arm;re;17,6;kPa;\n";
  const std::string table = swapped(goodTable(kReadings), {{arm, ""}}) + arm;
  const Issues issues = issuesOfTable(goodMap(kReadings), table);
  ASSERT_EQ(issues.size(), 2U) << listed(issues);
  for (const Issue& issue : issues) EXPECT_EQ(issue.rule, "csv-apart");
  EXPECT_EQ(issues[0].place, "row 2");
  EXPECT_EQ(issues[1].place, "row 4");
}

TEST(Csv, AVisitOfTooManyRowsIsSetAsideInPieces) {
  std::string table = goodTable(kReadings);
  for (std::size_t i = 0; i < csv::Reader::kVisitLimit + 1; ++i) {
    table += "V3;P3;2026-10-05 12:20;B. Nurse;;;;;\n";
  }
  const Issues issues = issuesOfTable(goodMap(kReadings), table);
  ASSERT_EQ(issues.size(), 2U) << listed(issues);
  for (const Issue& issue : issues) EXPECT_EQ(issue.rule, "csv-visit-long");
  EXPECT_EQ(issues[1].place, "row 1005");
}

/// An input that cannot be read twice and does not end before a limit.
class Pipe : public std::streambuf {
 public:
  Pipe(std::string head, std::size_t size) : head_(std::move(head)), size_(size) {}

 protected:
  int_type uflow() override {
    const int_type next = underflow();
    ++at_;
    return next;
  }
  int_type underflow() override {
    if (at_ >= size_) return traits_type::eof();
    return at_ < head_.size() ? traits_type::to_int_type(head_[at_]) : 'x';
  }

 private:
  std::string head_;
  std::size_t size_;
  std::size_t at_ = 0;
};

Issues issuesOfPipe(std::size_t size) {
  const Result<csv::SourceMap> map = csv::loadSourceMap(goodMap(kReadings), tables());
  Pipe pipe(goodTable(kReadings), size);
  std::istream in(&pipe);
  csv::Reader reader(in, "pipe", *map, tables());
  Issues out;
  while (std::optional<intake::Text> text = reader.next()) append(out, text->issues);
  return out;
}

TEST(Csv, APipeOfReadingsIsHeldUpToALimit) {
  EXPECT_TRUE(issuesOfPipe(goodTable(kReadings).size()).empty());
  const Issues issues = issuesOfPipe(csv::Reader::kHeldLimit + 2);
  ASSERT_EQ(issues.size(), 1U) << listed(issues);
  EXPECT_EQ(issues.front().rule, "csv-pipe");
}

/// Header and rows of all that a table gave, as they came.
std::string gathered(const csv::SourceMap& map, const std::string& table) {
  std::istringstream in(table);
  csv::Reader reader(in, "table", map, tables());
  std::string out;
  while (std::optional<intake::Text> text = reader.next()) {
    if (!text->original) return "";
    if (out.empty()) out = text->original->header;
    out += text->original->rows;
  }
  return out;
}

class Hostile : public testing::TestWithParam<CsvCase::Layout> {};

TEST_P(Hostile, CutAtEveryByteNothingIsLost) {
  const Result<csv::SourceMap> map = csv::loadSourceMap(goodMap(GetParam()), tables());
  const std::string table = goodTable(GetParam());
  const std::size_t header = table.find('\n') + 1;
  for (std::size_t length = 0; length <= table.size(); ++length) {
    const std::string cut = table.substr(0, length);
    std::string back = gathered(*map, cut);
    if (length <= header) continue;  // no row yet
    if (!cut.ends_with('\n') && back.ends_with('\n')) back.pop_back();
    EXPECT_EQ(back, cut);
  }
}

TEST_P(Hostile, AnyByteReplacedNothingIsLost) {
  const Result<csv::SourceMap> map = csv::loadSourceMap(goodMap(GetParam()), tables());
  const std::string table = goodTable(GetParam());
  const std::size_t header = table.find('\n') + 1;
  for (std::size_t at = header; at < table.size(); ++at) {
    for (const char c : {'"', '\0', '\xFF', ';', ',', '\r', 'x', '\xC3', '='}) {
      std::string hostile = table;
      hostile[at] = c;
      std::string back = gathered(*map, hostile);
      if (!hostile.ends_with('\n') && back.ends_with('\n')) back.pop_back();
      EXPECT_EQ(back, hostile) << at << " " << static_cast<int>(c);
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Layouts, Hostile, testing::Values(kVisits, kReadings),
                         [](const auto& tested) {
                           return "Layout" + std::to_string(tested.index);
                         });

TEST(Csv, MapsOfAnyBytesAreAnswered) {
  const std::string map = goodMap(kVisits);
  for (std::size_t length = 0; length < map.size(); length += 3) {
    const Result<csv::SourceMap> cut = csv::loadSourceMap(map.substr(0, length), tables());
    EXPECT_TRUE(cut || !cut.issues().empty());
  }
}

TEST(Csv, DecodesWindows1252) {
  EXPECT_EQ(csv::decoded("\x80 \xE9\x9F", csv::Encoding::Windows1252),
            "\xE2\x82\xAC \xC3\xA9\xC5\xB8");
  for (const char c : {'\x81', '\x8D', '\x8F', '\x90', '\x9D'}) {
    EXPECT_FALSE(csv::decoded(std::string(1, c), csv::Encoding::Windows1252));
  }
}

TEST(Csv, ReadsDaysAndTimesAsWritten) {
  const auto day = [](std::string_view pattern, std::string_view written) -> std::string {
    std::string_view rest;
    const auto date = csv::DatePattern::of(pattern)->read(written, rest);
    return date ? text(*date) + std::string(rest) : "";
  };
  EXPECT_EQ(day("dd/mm/yyyy", "5/10/2026"), "2026-10-05");
  EXPECT_EQ(day("mm/dd/yyyy", "10/05/2026 10:20"), "2026-10-05 10:20");
  EXPECT_EQ(day("dd mmm yyyy", "5 October 2026"), "2026-10-05");
  EXPECT_EQ(day("dd-mmm-yy", "05-OCT-26"), "2026-10-05");
  for (const std::string_view wrong :
       {"05/10/26", "05/10/20261", "31/04/2026", "05-10-2026", "", "05/10/2026x", "29/02/2025"}) {
    EXPECT_EQ(day("dd/mm/yyyy", wrong), "") << wrong;
  }
  for (const std::string_view wrong :
       {"dd/mm", "dd/mm/yyyy/dd", "yyyy", "ddmmyyyy", "dd/mm/yyy", "xx"}) {
    EXPECT_FALSE(csv::DatePattern::of(wrong)) << wrong;
  }
  EXPECT_EQ(csv::readTime("9:05"), 9 * 3600 + 300);
  EXPECT_EQ(csv::readTime("12:00 AM"), 0);
  EXPECT_EQ(csv::readTime("2.15 pm"), 14 * 3600 + 900);
  EXPECT_EQ(csv::readTime("1020"), 10 * 3600 + 1200);
  for (const std::string_view wrong :
       {"", "9", "24:00", "10:60", "10:5", "13:00 pm", "10:20 uhr"}) {
    EXPECT_FALSE(csv::readTime(wrong)) << wrong;
  }
}

TEST(Headings, EveryFieldIsAPlace) {
  const csv::Places places(tables());
  for (const HeadingRow& row : tables().headings) {
    if (row.part != "field" && row.part != "weak") continue;
    EXPECT_TRUE(places.find(row.means)) << row.id;
  }
}

TEST(Headings, EveryWordOfACellStandsForSomethingTheItemTakes) {
  const std::map<std::string, std::string> columns{{"pressure", "legs.right.ankle.dorsalisPedis"},
                                                   {"any", "legs.right.ankle.dorsalisPedis"},
                                                   {"doppler", "legs.right.doppler.dorsalisPedis"},
                                                   {"pulse", "legs.right.pulses.femoral"},
                                                   {"gender", "patient.gender"},
                                                   {"status", "status"},
                                                   {"posture", "conditions.posture"},
                                                   {"diabetes", "history.diabetes"},
                                                   {"smoking", "history.smoking"},
                                                   {"yes-no", "history.dialysis"},
                                                   {"present", "legs.right.restPain.present"}};
  for (const HeadingRow& row : tables().headings) {
    if (row.part != "cell") continue;
    ASSERT_TRUE(columns.contains(row.kind)) << row.id;
    const std::string extra = "\"Extra\" = { to = \"" + columns.at(row.kind) +
                              "\", words = { \"w\" = " + row.means + " } }\n";
    std::string map = swapped(
        goodMap(kVisits),
        {{"\"R DP\" = \"legs.right.ankle.dorsalisPedis\"\n", ""},
         {"\"R wave\" = \"legs.right.doppler.dorsalisPedis\"\n", ""},
         {"\"R pulse\" = { to = \"legs.right.pulses.femoral\", scale = \"0-3\" }\n", extra}});
    const Result<csv::SourceMap> loaded = csv::loadSourceMap(map, tables());
    EXPECT_TRUE(loaded) << row.id << listed(loaded.issues());
  }
}

}  // namespace
}  // namespace footbridge::test
