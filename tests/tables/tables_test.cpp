#include "tables/tables.hpp"

#include <gtest/gtest.h>
#include <unistd.h>

#include <set>

#include "core/file.hpp"
#include "tables/fields.hpp"

namespace footbridge {
namespace {

const std::filesystem::path kMapping{FOOTBRIDGE_MAPPING_DIR};

const Tables& embedded() {
  static const Result<Tables> kTables = embeddedTables();
  return *kTables;
}

/// A copy of mapping/ that a test may break; gone when the test ends.
class Copy {
 public:
  Copy()
      : folder_(std::filesystem::path{testing::TempDir()} /
                ("footbridge-tables-" + std::to_string(getpid()))) {
    std::filesystem::remove_all(folder_);
    std::filesystem::copy(kMapping, folder_);
  }
  ~Copy() { std::filesystem::remove_all(folder_); }
  Copy(const Copy&) = delete;
  Copy& operator=(const Copy&) = delete;

  const std::filesystem::path& folder() const { return folder_; }

  void replace(const std::string& file, std::string_view from, std::string_view to) const {
    std::string bytes = *readFile(folder_ / file);
    const std::size_t at = bytes.find(from);
    ASSERT_NE(at, std::string::npos) << file << " does not hold " << from;
    bytes.replace(at, from.size(), to);
    ASSERT_TRUE(writeFileAtomically(folder_ / file, bytes).empty());
  }

 private:
  std::filesystem::path folder_;
};

TEST(Tables, TheEmbeddedOnesAreThoseOfTheDirectory) {
  ASSERT_TRUE(embeddedTables());
  const Result<Tables> loaded = loadTables(kMapping);
  ASSERT_TRUE(loaded) << loaded.issues().front().text;
  EXPECT_EQ(loaded->digest, embedded().digest);
  const tables::Files files = tables::embeddedFiles();
  EXPECT_EQ(files.size(), tables::fileNames().size());
  for (const auto& [name, bytes] : files) {
    EXPECT_TRUE(bytes == *readFile(kMapping / name)) << name << " differs";
  }
}

TEST(Tables, EveryFileOfTheDirectoryIsEmbedded) {
  std::set<std::string> there;
  for (const auto& entry : std::filesystem::directory_iterator{kMapping}) {
    if (entry.path().extension() == ".json") there.insert(entry.path().filename());
  }
  const std::vector<std::string>& names = tables::fileNames();
  EXPECT_EQ(there, std::set<std::string>(names.begin(), names.end()));
}

TEST(Tables, AMissingFileIsNamed) {
  for (const std::string& name : tables::fileNames()) {
    const Copy copy;
    std::filesystem::remove(copy.folder() / name);
    const Result<Tables> loaded = loadTables(copy.folder());
    ASSERT_FALSE(loaded) << name;
    EXPECT_NE(loaded.issues().front().text.find(name), std::string::npos);
  }
}

TEST(Tables, AMissingDirectoryNamesAllFiles) {
  const Result<Tables> loaded = loadTables(kMapping / "none");
  ASSERT_FALSE(loaded);
  EXPECT_EQ(loaded.issues().size(), tables::fileNames().size());
}

struct Breakage {
  std::string file;
  std::string_view from;
  std::string_view to;
  std::string_view named;  ///< what some issue has to name
};

TEST(Tables, ABrokenRowIsNamed) {
  const std::vector<Breakage> rows{
      {"items.json", R"("id": "arm.diastolic")", R"("id": "arm.middle")", "items.json row 2"},
      {"items.json", R"("kind": "pressure")", R"("kind": "force")", "items.json row 1"},
      {"items.json", R"("path": "/arms/{side}/diastolic")", R"("path": "/arms/diastolic")",
       "arm.diastolic"},
      {"items.json", R"("concept": "arm-diastolic")", R"("concept": "arm-none")", "arm.diastolic"},
      {"items.json", R"("reject": [40, 300])", R"("reject": [40])", "items.json row 1"},
      {"words.json", R"("concept": "amputation-none")", R"("concept": "nowhere")", "amputation"},
      {"concepts.json", R"("label": "Ankle-brachial index abnormal", )", "", "concepts.json row 1"},
      {"rules.json", R"("severity": )", R"("severe": )", "rules.json"},
      {"rule_sets.json", R"("from": "0.)", R"("from": 0.)", "rule_sets.json"},
      {"clti.json", R"("measure": )", R"("measured": )", "clti.json"},
      {"clti.json", R"("condition": "rest-pain")", R"("condition": "rest")", "none of any"},
      {"clti.json", R"("measure": "ankle")", R"("measure": "toe")", "a measure twice"},
      {"wifi.json", R"("stage": )", R"("stages": )", "wifi.json"},
      {"pulses.json", R"("lowest": 0)", R"("lowest": "0")", "pulses.json row 1"},
      {"waveforms.json", R"("source": )", R"("sources": )", "waveforms.json row 1"},
      {"indices.json", R"("unit": )", R"("units": )", "indices.json row 1"},
      {"criteria.json", R"("measure": "toe")", R"("measure": "heel")", "healing-toe-under-30"},
      {"criteria.json", R"("above": 20)", R"("over": 20)", "exercise-abi-fall-20"},
      {"criteria.json", R"("above": 20)", R"("above": 20, "below": 20)", "exercise-abi-fall-20"},
      {"criteria.json", R"("scheme": "change-criterion")", R"("scheme": "nothing-criterion")",
       "change-abi-015"},
      {"criteria.json", R"("scheme": "change-criterion")", R"("scheme": "healing-criterion")",
       "stands apart"},
      {"criteria.json", R"("scheme": "healing-criterion")", R"("scheme": "wifi-wound")",
       "none of criteria"},
      {"criteria.json", R"("id": "change-toe-26")", R"("id": "change-abi-015")", "is taken"},
      {"criteria.json", R"("id": "change-toe-26")", R"("id": "abi-normal")", "is taken"},
      {"criteria.json", R"("source": )", R"("sources": )", "criteria.json"},
      {"compression.json", R"("to": "0.49")", R"("to": "0.50")", "leaves a gap or overlaps"},
      {"compression.json", R"("outcome": "compression-full")", R"("outcome": "compression-ful")",
       "nice-cks.compression.full"},
      {"rutherford.json", R"("measure": )", R"("measured": )", "rutherford.json"},
      {"rules.json", R"("rows")", R"("rows)", "rules.json"},
  };
  for (const Breakage& row : rows) {
    const Copy copy;
    copy.replace(row.file, row.from, row.to);
    const Result<Tables> loaded = loadTables(copy.folder());
    ASSERT_FALSE(loaded) << row.file << ' ' << row.to;
    EXPECT_TRUE(blocking(loaded.issues()));
    std::string all;
    for (const Issue& issue : loaded.issues()) all += issue.text + '\n';
    EXPECT_NE(all.find(row.named), std::string::npos) << row.to << " gives " << all;
  }
}

/// What is said of a realm base that forbids an element of results.
std::string saidOfForbidding(const std::string& element) {
  const Copy copy;
  const std::string row =
      R"("mustSupport": [{"of": "result", "elements": ["Observation.issued"], "source": "x", )"
      R"("certainty": "our choice"}], "forbidden": [{"of": "result", "elements": [")" +
      element + R"("], "source": "x", "certainty": "our choice"}])";
  copy.replace("realms.json", R"("mustSupport": [], "forbidden": [])", row);
  const Result<Tables> loaded = loadTables(copy.folder());
  return loaded ? "" : loaded.issues().front().text;
}

TEST(Tables, ARealmCannotForbidWhatCarriesAMeaning) {
  EXPECT_EQ(saidOfForbidding("Observation.device"), "");
  EXPECT_EQ(saidOfForbidding("Observation.specimen"), "") << "which is never written";
  for (const char* element : {"Observation.bodySite", "Observation.interpretation",
                              "Observation.dataAbsentReason", "Observation.value[x]"}) {
    EXPECT_NE(saidOfForbidding(element).find(std::string("it forbids ") + element),
              std::string::npos);
  }
  EXPECT_NE(saidOfForbidding("Observation.issued").find("asked for and forbidden"),
            std::string::npos);
  EXPECT_NE(saidOfForbidding("issued").find("is none of results"), std::string::npos);
}

TEST(Tables, EveryItemHasAPlaceOfItsOwnOnEachSide) {
  std::set<std::string> places;
  std::size_t wanted = 0;
  for (const ItemRow& row : embedded().items) {
    for (const Side side : kSides) {
      const std::string place = embedded().place(row.item, row.sided ? side : Side::None);
      EXPECT_TRUE(place.starts_with('/')) << place;
      EXPECT_EQ(place.find_first_of("{}~ "), std::string::npos) << place;
      places.insert(place);
    }
    wanted += row.sided ? 2 : 1;
  }
  EXPECT_EQ(places.size(), wanted);
  EXPECT_EQ(embedded().place(Item::AnkleDorsalisPedis, Side::Left),
            "/legs/left/ankle/dorsalisPedis");
}

/// Braces come in pairs, without nesting, around a plain name or a piece of JSON shown to people.
bool wellBraced(std::string_view text) {
  constexpr std::string_view kLetters =
      "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_";
  while (true) {
    const std::size_t open = text.find_first_of("{}");
    if (open == std::string_view::npos) return true;
    if (text[open] == '}') return false;
    const std::string_view inside = text.substr(open + 1);
    const std::size_t close = inside.starts_with('"') ? text.find_first_of("{}", open + 1)
                                                      : text.find_first_not_of(kLetters, open + 1);
    if (close == std::string_view::npos || text[close] != '}' || close == open + 1) return false;
    text.remove_prefix(close + 1);
  }
}

TEST(Rules, EachIsASentenceWithAMend) {
  EXPECT_GT(embedded().rules.size(), 200U);
  for (const Rule& rule : embedded().rules) {
    EXPECT_TRUE(wellBraced(rule.sentence.text())) << rule.id << ": " << rule.sentence.text();
    EXPECT_TRUE(wellBraced(rule.mend.text())) << rule.id << ": " << rule.mend.text();
    EXPECT_FALSE(rule.sentence.text().empty()) << rule.id;
    EXPECT_FALSE(rule.mend.text().empty()) << rule.id;
    EXPECT_FALSE(rule.source.text.empty()) << rule.id;
    EXPECT_EQ(embedded().rule(rule.id).sentence.text(), rule.sentence.text());
  }
  EXPECT_TRUE(wellBraced("is {value}"));
  EXPECT_FALSE(wellBraced("is {value"));
  EXPECT_FALSE(wellBraced("is value}"));
  EXPECT_FALSE(wellBraced("is {{value}}"));
}

TEST(Rules, StagesAreThoseOfTheProgram) {
  const std::set<std::string> stages{"run", "intake", "validate", "derive", "grade", "flag"};
  for (const Rule& rule : embedded().rules) EXPECT_TRUE(stages.contains(rule.stage)) << rule.id;
}

TEST(Limits, WhatIsQueriedLiesInsideWhatIsRefused) {
  for (const ItemRow& row : embedded().items) {
    const Limits& limits = row.limits;
    const bool numeric = row.kind == Kind::Pressure || row.kind == Kind::Number;
    EXPECT_EQ(numeric, limits.rejectBelow.has_value()) << id(row.item);
    if (limits.rejectBelow && limits.queryBelow) {
      EXPECT_TRUE(order(*limits.rejectBelow, *limits.queryBelow) <= 0) << id(row.item);
    }
    if (limits.rejectAbove && limits.queryAbove) {
      EXPECT_TRUE(order(*limits.rejectAbove, *limits.queryAbove) >= 0) << id(row.item);
    }
  }
}

}  // namespace
}  // namespace footbridge
