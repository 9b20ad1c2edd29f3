// One assessment in the shapes of several realms, with and without profiles, in two FHIR releases.

#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <iterator>

#include "app/pipeline.hpp"
#include "app/shape.hpp"
#include "package/bundle.hpp"
#include "package/bundle_reader.hpp"

namespace footbridge::test {
namespace {

using package::BundleOptions;
using package::Claims;

const Tables& tables() {
  static const Tables kTables = *embeddedTables();
  return kTables;
}

/// An example whose right arm has both pressures; its left arm has the systolic alone.
app::Outcome outcome() {
  std::ifstream in(std::string(FOOTBRIDGE_EXAMPLES_DIR) + "/01-normal-both-legs.json");
  std::string bytes{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
  const Instant now = *parseInstant("2026-11-25T12:00:00+00:00");
  app::Outcome out = app::Pipeline(tables(), now).run({"example", bytes, {}});
  std::vector<Reading>& readings = out.assessment.readings;
  std::erase_if(readings, [](const Reading& r) { return r.item == Item::ArmDiastolic; });
  Reading diastolic = *out.assessment.find(Item::ArmSystolic, Side::Right);
  diastolic.item = Item::ArmDiastolic;
  diastolic.content = Pressure::mmhg(78);
  readings.push_back(diastolic);
  std::sort(readings.begin(), readings.end(), [](const Reading& a, const Reading& b) {
    return std::pair{a.item, a.side} < std::pair{b.item, b.side};
  });
  out.assessment.patient.identifiers.insert(out.assessment.patient.identifiers.begin(),
                                            {"https://hospital.example/mrn", "77"});
  return out;
}

std::string bytesFor(BundleOptions options) {
  const app::Outcome made = outcome();
  std::string out;
  package::BundleWriter(tables(), std::move(options))
      .append(out, made.assessment, made.findings, made.issues);
  return out;
}

std::string bytesFor(std::string realm, Claims claims = Claims::None) {
  BundleOptions options;
  options.realm = std::move(realm);
  options.claims = claims;
  return bytesFor(options);
}

bool has(std::string_view text, std::string_view part) {
  return text.find(part) != std::string_view::npos;
}

TEST(Realms, WithoutAWishNoProfileIsClaimed) {
  for (const Realm& realm : tables().realms) {
    EXPECT_FALSE(has(bytesFor(realm.id), "\"profile\":")) << realm.id;
  }
}

TEST(Realms, EveryResourceClaimsOneOfOursIfAsked) {
  const json::Value bundle = *json::read(bytesFor("base", Claims::Ours));
  for (const json::Value& entry : *bundle.member("entry")->asArray()) {
    const json::Value& resource = *entry.member("resource");
    const json::Value* meta = resource.member("meta");
    ASSERT_NE(meta, nullptr) << resource.text("resourceType");
    const json::Array& profiles = *meta->member("profile")->asArray();
    ASSERT_EQ(profiles.size(), 1U);
    const std::string_view own = ownCode(resource.member("code"), tables());
    const std::string& url = *profiles.front().asString();
    if (!own.empty()) {
      EXPECT_TRUE(url.ends_with("/StructureDefinition/" + std::string(own))) << url;
    }
  }
}

TEST(Realms, ProfilesOfARealmAreClaimedByHowWellTheyAreKnown) {
  const std::string pressure = "us-core-blood-pressure";
  const std::string result = "us-core-observation-clinical-result";
  EXPECT_FALSE(has(bytesFor("us-core", Claims::Ours), pressure));
  EXPECT_TRUE(has(bytesFor("us-core", Claims::Checked), pressure));
  EXPECT_FALSE(has(bytesFor("us-core", Claims::Checked), result));
  EXPECT_TRUE(has(bytesFor("us-core", Claims::All), result));
}

TEST(Realms, OfAPatientWithoutANameNoRealmProfileIsClaimed) {
  app::Outcome made = outcome();
  made.assessment.patient.birthDate.reset();
  BundleOptions options;
  options.realm = "us-core";
  options.claims = Claims::Checked;
  options.patientReference = package::PatientReference::Create;
  std::string out;
  package::BundleWriter(tables(), options).append(out, made.assessment, made.findings, made.issues);
  EXPECT_TRUE(has(out, "/StructureDefinition/arm-pressure-panel\""));
  EXPECT_FALSE(has(out, "us-core-"));
}

TEST(Realms, APatientThatIsKnownWellClaimsTheProfileOfTheSummary) {
  BundleOptions options;
  options.realm = "ips";
  options.claims = Claims::Checked;
  options.patientReference = package::PatientReference::Create;
  EXPECT_TRUE(has(bytesFor(options), "/StructureDefinition/Patient-uv-ips\""));
}

TEST(Realms, AnArmLeavesAsABloodPressureWhereBothPartsAreThere) {
  const std::string panel = "\"code\":\"85354-9\"";
  EXPECT_FALSE(has(bytesFor("base"), panel));
  const std::string us = bytesFor("us-core");
  const std::size_t first = us.find(panel);
  ASSERT_NE(first, std::string::npos);
  EXPECT_EQ(us.find(panel, first + 1), std::string::npos) << "the left arm has one part only";
  EXPECT_TRUE(has(us, "\"code\":\"8508-4\"")) << "the brachial pressure stays beside it";
}

TEST(Realms, TheOrderOfCodingsAndTheNameOfAUnitAreTheRealms) {
  const auto loincFirst = [](const std::string& bytes) {
    return bytes.find("77194-9") < bytes.find("446841001");
  };
  EXPECT_TRUE(loincFirst(bytesFor("us-core")));
  const std::string uk = bytesFor("uk-core");
  EXPECT_FALSE(loincFirst(uk));
  EXPECT_TRUE(has(uk, "\"unit\":\"millimeter of mercury\",\"system\""));
  EXPECT_FALSE(has(uk, "\"unit\":\"mmHg\""));
}

TEST(Realms, ThePatientIsFoundByTheIdentifierOfTheRealm) {
  EXPECT_TRUE(has(bytesFor("base"), "Patient?identifier=https%3A%2F%2Fhospital.example"));
  EXPECT_TRUE(has(bytesFor("uk-core"), "Patient?identifier=https%3A%2F%2Ffhir.nhs.uk"));
}

/// The tables with a realm of a site that wants none of these elements.
Tables tablesWithout(std::vector<std::string> elements) {
  Tables out = tables();
  Realm realm = *out.realm("base");
  realm.id = "site";
  realm.forbidden.push_back({"result", std::move(elements), {}});
  out.realms.push_back(realm);
  return out;
}

TEST(Realms, WhatARealmForbidsIsLeftOutOfResultsButNotOfTheReport) {
  const Tables site =
      tablesWithout({"Observation.encounter", "Observation.issued", "Observation.device"});
  app::Outcome made = outcome();
  made.assessment.encounter = Identifier{"https://hospital.example/visit", "V-1"};
  BundleOptions options;
  options.realm = "site";
  std::string bytes;
  package::BundleWriter(site, options).append(bytes, made.assessment, made.findings, made.issues);
  const json::Value bundle = *json::read(bytes);
  int results = 0;
  int reports = 0;
  for (const json::Value& entry : *bundle.member("entry")->asArray()) {
    const json::Value& resource = *entry.member("resource");
    const bool report = resource.text("resourceType") == "DiagnosticReport";
    if (!report && resource.text("resourceType") != "Observation") continue;
    ++(report ? reports : results);
    EXPECT_EQ(resource.member("encounter") != nullptr, report);
    EXPECT_EQ(resource.member("issued") != nullptr, report);
    EXPECT_EQ(resource.member("device"), nullptr);
  }
  EXPECT_GT(results, 20);
  EXPECT_EQ(reports, 1);
  EXPECT_TRUE(has(bytesFor("base"), "\"device\"")) << "it would have been there";
}

TEST(Realms, InFhirFiveADeviceHasItsModelNumber) {
  BundleOptions options;
  options.edition = package::Edition::R5;
  const std::string five = bytesFor(options);
  EXPECT_TRUE(has(five, "\"modelNumber\""));
  EXPECT_FALSE(has(five, "\"deviceName\""));
  EXPECT_TRUE(has(bytesFor("base"), "\"deviceName\""));
}

TEST(Shape, TheCommandLineGoesBeforeTheDestination) {
  BundleOptions options;
  EXPECT_TRUE(app::chooseShape({"eu", "", ""}, {"us-core", "all", ""}, tables(), options).empty());
  EXPECT_EQ(options.realm, "eu");
  EXPECT_EQ(options.claims, Claims::All);
}

TEST(Shape, WhatCannotBeIsRefused) {
  BundleOptions options;
  const Issues unknown = app::chooseShape({"us-cor", "", ""}, {}, tables(), options);
  ASSERT_EQ(unknown.size(), 1U);
  EXPECT_TRUE(has(unknown.front().mend, "Did you mean us-core?"));
  options = {};
  EXPECT_EQ(app::chooseShape({"", "ours", "5.0"}, {}, tables(), options).size(), 1U);
}

}  // namespace
}  // namespace footbridge::test
