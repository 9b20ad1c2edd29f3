// What leaves as FHIR: well-formed, the same bytes every time, complete in its references, within
// the code policy, and enough to come to the same findings again.

#include "package/bundle.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <set>

#include "app/pipeline.hpp"
#include "assess/assess.hpp"
#include "package/bundle_reader.hpp"
#include "support/generate.hpp"

namespace footbridge::test {
namespace {

const Tables& tables() {
  static const Tables kTables = *embeddedTables();
  return kTables;
}

Instant testNow() { return *parseInstant("2026-11-25T12:00:00+00:00"); }

std::string fileText(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

/// One assessment by name: a file of examples/clinic or a generated one.
struct Case {
  std::string name;
  std::string bytes;
  friend std::ostream& operator<<(std::ostream& out, const Case& c) { return out << c.name; }
};

std::vector<Case> cases() {
  std::vector<Case> out;
  for (const auto& entry : std::filesystem::directory_iterator(FOOTBRIDGE_EXAMPLES_DIR)) {
    out.push_back({entry.path().stem().string(), fileText(entry.path())});
  }
  std::sort(out.begin(), out.end(), [](const Case& a, const Case& b) { return a.name < b.name; });
  for (std::uint64_t i = 1; i <= 100; ++i) {
    out.push_back({"generated-" + std::to_string(i), generateAssessment(tables(), 7, i)});
  }
  return out;
}

class Bundles : public testing::TestWithParam<Case> {
 protected:
  void SetUp() override {
    outcome_ = app::Pipeline(tables(), testNow()).run({GetParam().name, GetParam().bytes, {}});
    ASSERT_FALSE(outcome_.refused()) << outcome_.issues.front().text;
    bytes_ = write();
    Result<json::Value> parsed = json::read(bytes_);
    ASSERT_TRUE(parsed) << parsed.issues().front().text;
    bundle_ = *std::move(parsed);
  }

  std::string write(package::PatientReference patient = package::PatientReference::Conditional) {
    package::BundleOptions options;
    options.patientReference = patient;
    std::string out;
    entries_ = package::BundleWriter(tables(), options)
                   .append(out, outcome_.assessment, outcome_.findings, outcome_.issues);
    return out;
  }

  app::Outcome outcome_;
  std::string bytes_;
  std::size_t entries_ = 0;
  json::Value bundle_;
};

void collect(const json::Value& value, std::string_view name, std::vector<std::string>& out) {
  if (const json::Object* members = value.asObject()) {
    for (const auto& [key, content] : *members) {
      if (key == name && content.asString() != nullptr) out.push_back(*content.asString());
      collect(content, name, out);
    }
  } else if (const json::Array* elements = value.asArray()) {
    for (const json::Value& element : *elements) collect(element, name, out);
  }
}

TEST_P(Bundles, AreTheSameBytesEveryTime) { EXPECT_EQ(bytes_, write()); }

TEST_P(Bundles, HaveAsManyEntriesAsTheWriterSays) {
  EXPECT_EQ(entries_, bundle_.list("entry").size());
  const auto more = json::read(write(package::PatientReference::Create), {.members = 4096});
  ASSERT_TRUE(more);
  EXPECT_EQ(entries_, more->list("entry").size());
}

TEST_P(Bundles, HaveNoDanglingReferenceAndNoNameTwice) {
  std::set<std::string> fullUrls;
  for (const json::Value& entry : *bundle_.member("entry")->asArray()) {
    EXPECT_TRUE(fullUrls.insert(std::string(entry.text("fullUrl"))).second);
    EXPECT_FALSE(entry.member("request")->text("ifNoneExist").empty());
  }
  std::vector<std::string> references;
  collect(bundle_, "reference", references);
  EXPECT_FALSE(references.empty());
  for (const std::string& reference : references) {
    EXPECT_TRUE(!reference.starts_with("urn:") || fullUrls.contains(reference)) << reference;
  }
}

TEST_P(Bundles, LeadBackToTheSameFindings) {
  const Assessment again = readBundle(bundle_, tables());
  const Findings findings = findOut(again, tables());
  EXPECT_EQ(outcome_.findings.indices, findings.indices);
  EXPECT_EQ(outcome_.findings.flags, findings.flags);
  EXPECT_EQ(outcome_.findings.grades, findings.grades);
}

// Codes from which the HL7 validator implies the vital-signs profiles of R4
// (hapifhir/org.hl7.fhir.core@b06c7ee, BasePolicyAdvisorForFullValidation.java).
const std::set<std::string, std::less<>>& impliedProfileCodes() {
  static const std::set<std::string, std::less<>> kCodes{
      "85354-9",   "35094-2",   "8459-0",    "76534-7",   "55284-4",   "8480-6",    "251076008",
      "163033001", "163035008", "386534000", "386536003", "271649006", "271650006", "407556006",
      "407554009", "716579001", "399304008", "60978-4",   "73795-7",   "73799-9",   "76476-1",
      "76477-9",   "8867-4",    "8889-8",    "40443-4",   "55425-3",   "68999-2",   "11328-2",
      "69000-8",   "8886-4",    "271306003", "249043002", "444981005", "399017001", "251670001",
      "429525003", "429614003"};
  return kCodes;
}

std::set<std::string> unverified() {
  std::set<std::string> out;
  for (const Concept& row : tables().concepts) {
    for (const Coding& coding : row.codings) {
      if (!coding.verified) out.insert(coding.code);
    }
  }
  return out;
}

TEST_P(Bundles, HoldNoCodeThatIsUnverifiedOrImpliesAnotherProfile) {
  const std::set<std::string> evidenceOnly = unverified();
  std::vector<std::string> codes;
  for (const json::Value* observation : resources(bundle_, "Observation")) {
    collect(*observation, "code", codes);
  }
  EXPECT_FALSE(codes.empty());
  for (const std::string& code : codes) {
    EXPECT_FALSE(impliedProfileCodes().contains(code)) << code;
    EXPECT_FALSE(evidenceOnly.contains(code)) << code;
  }
}

// The arm's code is never on a reading of a leg: a reader that ignores the body site would chart it
// as the patient's blood pressure (hazard: wrong meaning).
TEST_P(Bundles, HoldNoLegPressureUnderAnArmCode) {
  for (const json::Value* observation : resources(bundle_, "Observation")) {
    const std::string_view own = ownCode(observation->member("code"), tables());
    std::vector<std::string> codes;
    collect(*observation->member("code"), "code", codes);
    const bool arm = std::find(codes.begin(), codes.end(), "8508-4") != codes.end();
    EXPECT_TRUE(!arm || own == "arm-systolic") << own;
  }
}

TEST_P(Bundles, HoldNoIndexOfAnIncompressibleArtery) {
  for (const Side side : kSides) {
    const bool hard = incompressible(outcome_.assessment.find(Item::AnkleDorsalisPedis, side)) ||
                      incompressible(outcome_.assessment.find(Item::AnklePosteriorTibial, side));
    const Index* index = outcome_.findings.find(IndexKind::Abi, side);
    EXPECT_FALSE(hard && index != nullptr && index->present());
  }
}

TEST_P(Bundles, SayInTheNarrativeWhatTheDataSay) {
  for (const json::Value* observation : resources(bundle_, "Observation")) {
    const std::string_view div = observation->member("text")->text("div");
    if (const json::Value* quantity = observation->member("valueQuantity")) {
      EXPECT_NE(div.find(quantity->member("value")->asNumber()->text), std::string_view::npos)
          << div;
    }
    if (observation->member("dataAbsentReason") != nullptr) {
      EXPECT_TRUE(div.find("no reading") != std::string_view::npos ||
                  div.find("no value") != std::string_view::npos ||
                  div.find("cannot be graded") != std::string_view::npos)
          << div;
    }
  }
}

std::string caseName(const testing::TestParamInfo<Case>& info) {
  std::string out = info.param.name;
  std::replace_if(
      out.begin(), out.end(), [](char c) { return !std::isalnum(static_cast<unsigned char>(c)); },
      '_');
  return out;
}

INSTANTIATE_TEST_SUITE_P(All, Bundles, testing::ValuesIn(cases()), caseName);

TEST(Bundles, KeepTheDigitsOfDecimals) {
  std::string text = fileText(std::string(FOOTBRIDGE_EXAMPLES_DIR) + "/20-edges.json");
  const app::Outcome outcome = app::Pipeline(tables(), testNow()).run({"edges", text, {}});
  std::string out;
  package::BundleWriter(tables(), {}).append(out, outcome.assessment, outcome.findings, {});
  EXPECT_NE(out.find("\"value\":0.90,"), std::string::npos);
  EXPECT_NE(out.find("\"value\":1.40,"), std::string::npos);
}

TEST(Bundles, NameEveryResourceOfAVisitAlikeInEveryRevision) {
  const std::string text = fileText(std::string(FOOTBRIDGE_EXAMPLES_DIR) + "/21-smallest.json");
  app::Outcome outcome = app::Pipeline(tables(), testNow()).run({"smallest", text, {}});
  std::string first;
  std::string second;
  package::BundleWriter writer(tables(), {});
  writer.append(first, outcome.assessment, outcome.findings, {});
  outcome.assessment.revision = 2;
  writer.append(second, outcome.assessment, outcome.findings, {});
  const auto urls = [](const std::string& bytes) {
    std::vector<std::string> out;
    collect(*json::read(bytes), "fullUrl", out);
    out.pop_back();  // Provenance is of a revision, not of the visit
    return out;
  };
  EXPECT_EQ(urls(first), urls(second));
  EXPECT_NE(first, second);
}

TEST(CodeSystem, HasEveryCodeOfOursThatABundleUses) {
  const json::Value system = *json::read(package::codeSystem(tables(), "1"));
  std::set<std::string> known;
  for (const json::Value& row : *system.member("concept")->asArray()) {
    EXPECT_TRUE(known.insert(std::string(row.text("code"))).second);
  }
  for (std::uint64_t i = 1; i <= 50; ++i) {
    const app::Outcome outcome =
        app::Pipeline(tables(), testNow()).run({"g", generateAssessment(tables(), 3, i), {}});
    std::string out;
    package::BundleWriter(tables(), {}).append(out, outcome.assessment, outcome.findings, {});
    const std::string marker =
        "\"system\":\"" + package::codeSystemUrl(tables()) + "\",\"code\":\"";
    for (std::size_t at = out.find(marker); at != std::string::npos;
         at = out.find(marker, at + 1)) {
      const std::size_t begin = at + marker.size();
      const std::string code = out.substr(begin, out.find('"', begin) - begin);
      EXPECT_TRUE(known.contains(code)) << code;
    }
  }
}

}  // namespace
}  // namespace footbridge::test
