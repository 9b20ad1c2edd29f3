// A site's own codings: what is laid over, what is refused, and that a refusal changes nothing.

#include "tables/overlay.hpp"

#include <gtest/gtest.h>

namespace footbridge {
namespace {

Tables shipped() { return *embeddedTables(); }

std::string overlay(std::string_view concept_, std::string_view mode, std::string_view coding) {
  return "{\"rows\":[{\"concept\":\"" + std::string(concept_) + "\",\"mode\":\"" +
         std::string(mode) + "\",\"codings\":[" + std::string(coding) + "]}]}";
}

constexpr std::string_view kSite =
    R"({"system":"https://site.example/codes","code":"A1","display":"Ankle","status":"verified",)"
    R"("source":"our own list of 2026"})";

std::size_t verifiedOf(const Tables& tables, std::string_view id) {
  std::size_t out = 0;
  for (const Coding& coding : tables.concept_(id)->codings) out += coding.verified ? 1 : 0;
  return out;
}

TEST(Overlay, AddsBehindWhatIsShippedAndSaysWhereItComesFrom) {
  Tables tables = shipped();
  const std::string before = tables.digest;
  const Issues issues = layOver(tables, overlay("ankle-brachial-index", "add", kSite), "site.json");
  ASSERT_TRUE(issues.empty()) << issues.front().text;
  const std::vector<Coding>& codings = tables.concept_("ankle-brachial-index")->codings;
  EXPECT_EQ(codings.back().code, "A1");
  EXPECT_EQ(codings.back().origin, "site.json");
  EXPECT_EQ(codings.front().origin, "");
  EXPECT_EQ(verifiedOf(tables, "ankle-brachial-index"), 3U);
  EXPECT_NE(tables.digest, before);
}

TEST(Overlay, ReplacingKeepsTheShippedOnesAsEvidenceOnly) {
  Tables tables = shipped();
  ASSERT_TRUE(
      layOver(tables, overlay("ankle-brachial-index", "replace", kSite), "site.json").empty());
  EXPECT_EQ(verifiedOf(tables, "ankle-brachial-index"), 1U);
  EXPECT_EQ(tables.concept_("ankle-brachial-index")->codings.size(), 3U);
}

TEST(Overlay, TheSameCodeAgainIsNotDoubled) {
  Tables tables = shipped();
  const std::string again =
      R"({"system":"http://loinc.org","code":"77194-9","display":"Ankle-brachial index",)"
      R"("status":"unverified","source":"no longer known to our server"})";
  ASSERT_TRUE(layOver(tables, overlay("ankle-brachial-index", "add", again), "site.json").empty());
  EXPECT_EQ(tables.concept_("ankle-brachial-index")->codings.size(), 2U);
  EXPECT_EQ(verifiedOf(tables, "ankle-brachial-index"), 1U);
}

struct Refused {
  std::string name;
  std::string bytes;
  std::string says;
  friend std::ostream& operator<<(std::ostream& out, const Refused& c) { return out << c.name; }
};

class OverlayRefused : public testing::TestWithParam<Refused> {};

TEST_P(OverlayRefused, WithNothingLaidOver) {
  Tables tables = shipped();
  const Issues issues = layOver(tables, GetParam().bytes, "site.json");
  ASSERT_FALSE(issues.empty());
  bool said = false;
  for (const Issue& issue : issues) {
    said = said || issue.text.find(GetParam().says) != std::string::npos;
  }
  EXPECT_TRUE(said) << issues.front().text;
  EXPECT_EQ(tables.digest, shipped().digest);
  EXPECT_EQ(verifiedOf(tables, "ankle-pressure-peroneal"), 0U);
}

const std::string kBloodPressure =
    R"({"system":"http://loinc.org","code":"8480-6","display":"Systolic blood pressure",)"
    R"("status":"verified","source":"loinc.org"})";
// LOINC 8893-0: heart rate at a pulse site; validators imply the profile heartrate from it
// (hapifhir/org.hl7.fhir.core, BasePolicyAdvisorForFullValidation).
const std::string kHeartRate =
    R"({"system":"http://loinc.org","code":"8893-0","display":"Heart rate at a pulse site",)"
    R"("status":"verified","source":"loinc.org"})";
const std::string kOfAnEdition =
    R"({"system":"http://snomed.info/sct","code":"1","version":"http://snomed.info/sct/83821",)"
    R"("display":"Ankle","status":"verified","source":"our own list of 2026"})";
const std::string kUnfounded =
    R"({"system":"https://site.example/codes","code":"A1","display":"Ankle","status":"verified"})";

INSTANTIATE_TEST_SUITE_P(
    All, OverlayRefused,
    testing::Values(
        Refused{"NoJson", "{", "site.json"}, Refused{"NoRows", "{\"rows\":[]}", "nothing"},
        Refused{"UnknownConcept", overlay("ankle-pressure-peronaeal", "add", kSite),
                "did you mean ankle-pressure-peroneal?"},
        Refused{"UnknownMode", overlay("ankle-pressure-peroneal", "merge", kSite), "add, replace"},
        Refused{"WithoutEvidence", overlay("ankle-pressure-peroneal", "add", kUnfounded), "source"},
        Refused{"TakenForABloodPressure", overlay("ankle-pressure-peroneal", "add", kBloodPressure),
                "blood pressure"},
        Refused{"TakenForAHeartRate", overlay("pulse-dorsalis-pedis", "add", kHeartRate),
                "heart rate"},
        Refused{"UnknownMember", overlay("ankle-pressure-peroneal", "add", kOfAnEdition),
                "version"}),
    [](const testing::TestParamInfo<Refused>& tested) { return tested.param.name; });

}  // namespace
}  // namespace footbridge
