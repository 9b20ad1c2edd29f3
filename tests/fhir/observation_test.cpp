// Bundles of Observations made into texts in the input format: what each becomes, which belong
// together, and every rule on them.

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include "csv/tree.hpp"
#include "fhir/reader.hpp"
#include "json/writer.hpp"

namespace footbridge::fhir {
namespace {

const Tables& tables() {
  static const Tables kTables = *embeddedTables();
  return kTables;
}

constexpr const char* kMap = R"(
format = "footbridge-source-map-1"
base = "https://app.example"
[file]
zone = "Europe/London"
identify = "patient-and-time"
[defaults]
performer = { name = "Nurse" }
organization = { name = "Clinic" }
[fhir]
[words]
"ND" = { absent = "not-performed" }
[reading.items]
"urn:app|TOE" = "legs.{side}.toe.pressure"
"urn:app|SYS at urn:app|DPA-R" = "legs.right.ankle.dorsalisPedis"
"SIG" = { to = "legs.{side}.doppler.dorsalisPedis", words = { "T3" = "triphasic" } }
"PULSE" = { to = "legs.{side}.pulses.femoral", scale = "0-3" }
"Steps" = "ignore"
[reading.sides]
"urn:app|RF" = "right"
"LF" = "left"
)";

const Names& names() {
  static const Names kNames(tables());
  return kNames;
}

const Names& mapped() {
  static const csv::SourceMap kRead = *csv::loadSourceMap(kMap, tables());
  static const Names kNames(tables(), &kRead);
  return kNames;
}

const std::string kOwn = R"("system":"https://footbridge.example/fhir/CodeSystem/footbridge")";
const std::string kSubject = R"("subject":{"identifier":{"system":"urn:p","value":"P-1"}},)";
const std::string kDay = R"("effectiveDateTime":"2026-10-05T10:20:00+01:00")";
const std::string kHead = R"({"resourceType":"Observation","status":"final",)" + kSubject + kDay;
const std::string kDpCode =
    R"(,"code":{"coding":[{)" + kOwn + R"(,"code":"ankle-pressure-dorsalis-pedis"}]})";
const std::string kRight =
    R"(,"bodySite":{"coding":[{"system":"http://snomed.info/sct","code":"6685009"}]})";
const std::string kUcum = R"("system":"http://unitsofmeasure.org","code":"mm[Hg]")";

std::string quantity(const std::string& value, const std::string& more = kUcum) {
  return R"(,"valueQuantity":{"value":)" + value + "," + more + "}";
}

std::string appCode(const std::string& code) {
  return R"(,"code":{"coding":[{"system":"urn:app","code":")" + code + R"("}]})";
}

std::string appSite(const std::string& code) {
  return R"(,"bodySite":{"coding":[{"system":"urn:app","code":")" + code + R"("}]})";
}

std::string withState(std::string observation, const std::string& state) {
  const std::string from = R"("status":"final")";
  return observation.replace(observation.find(from), from.size(), R"("status":")" + state + '"');
}

const std::string kDp = kHead + kDpCode + kRight + quantity("112") + "}";

std::string bundle(const std::vector<std::string>& resources, const std::string& more = "") {
  std::string out = R"({"resourceType":"Bundle","type":"collection",)"
                    R"("identifier":{"system":"urn:b","value":"B-1"},)" +
                    more + R"("entry":[)";
  for (std::size_t i = 0; i < resources.size(); ++i) {
    out += (i == 0 ? "" : ",") + (R"({"fullUrl":"urn:uuid:)" + std::to_string(i)) +
           R"(","resource":)" + resources[i] + "}";
  }
  return out + "]}";
}

std::string report(const std::string& status, const std::string& results,
                   const std::string& more = "") {
  return R"({"resourceType":"DiagnosticReport","status":")" + status + R"(",)" + kSubject + kDay +
         R"(,"identifier":[{"system":"urn:r","value":"R-1"}],)" + more + R"("result":[)" + results +
         "]}";
}

std::string reference(int to) { return R"({"reference":"urn:uuid:)" + std::to_string(to) + "\"}"; }

std::vector<intake::Text> read(const std::string& bytes, const Names& by = names()) {
  return textsOf({"b.json", bytes, {}}, by);
}

std::string at(const intake::Text& text, const std::string& pointer) {
  const Result<json::Value> root = json::read(text.bytes);
  if (!root) return "no text";
  const json::Value* found = csv::valueAt(*root, pointer);
  if (found == nullptr) return "nothing";
  std::string out;
  json::appendValue(out, *found);
  return out;
}

struct Observation {
  const char* name;
  std::string bytes;
  std::string pointer;
  std::string value;  ///< as JSON
  bool byMap = false;
};

std::string on(std::string observation, const std::string& stamp) {
  return observation.replace(observation.find("2026-10-05"), stamp.size(), stamp);
}

/// A panel of the first reading behind it.
std::string panel(const std::string& state) {
  return withState(kHead + R"(,"code":{"text":"Legs"},"hasMember":[)" + reference(1) + "]}", state);
}

class Observed : public testing::TestWithParam<Observation> {};

TEST_P(Observed, Becomes) {
  const Observation& given = GetParam();
  const auto texts = read(given.bytes, given.byMap ? mapped() : names());
  ASSERT_EQ(texts.size(), 1U);
  EXPECT_FALSE(blocking(texts.front().issues)) << texts.front().issues.front().text;
  EXPECT_EQ(at(texts.front(), given.pointer), given.value) << texts.front().bytes;
}

std::string one(const std::string& rest) { return bundle({kHead + rest + "}"}); }

std::string own(const std::string& code) {
  return R"(,"code":{"coding":[{)" + kOwn + R"(,"code":")" + code + R"("}]})";
}

const std::string kToe = kHead + own("toe-pressure") + kRight + quantity("41") + "}";
const std::string kDpAt = "/legs/right/ankle/dorsalisPedis";
const std::string kToeAt = "/legs/right/toe/pressure";
const std::string kArm = R"(,"code":{"coding":[{"system":"http://loinc.org","code":"85354-9"}]},)"
                         R"("bodySite":{"coding":[{"system":"http://snomed.info/sct",)"
                         R"("code":"368208006"}]},"component":[{"code":{"coding":[{"system":)"
                         R"("http://loinc.org","code":"8480-6"}]})" +
                         quantity("138") +
                         R"(},{"code":{"coding":[{"system":"http://loinc.org","code":"8462-4"}]})" +
                         quantity("82") + "}]";

std::string withoutOffset(std::string bytes) { return bytes.replace(bytes.find("+01:00"), 6, ""); }

const std::vector<Observation>& becomes() {
  static const std::vector<Observation> kRows{
      {"own code", bundle({kDp}), kDpAt, "112"},
      {"path as code", one(own("legs.left.tcpo2") + quantity("41")), "/legs/left/tcpo2", "41"},
      {"standard code",
       one(R"(,"code":{"coding":[{"system":"http://loinc.org","code":"8508-4"}]})"
           R"(,"bodySite":{"coding":[{"system":"http://snomed.info/sct","code":"368209003"}]})" +
           quantity("140")),
       "/arms/right/systolic", "140"},
      {"digits kept",
       one(own("capillary-refill") + kRight +
           quantity("2.50", R"("system":"http://unitsofmeasure.org","code":"s")")),
       "/legs/right/capillaryRefill", "2.50"},
      {"kilopascals",
       one(kDpCode + kRight +
           quantity("16.0", R"("system":"http://unitsofmeasure.org","code":"kPa")")),
       kDpAt, R"({"value":16.0,"unit":"kPa"})"},
      {"comparator", one(kDpCode + kRight + quantity("20", R"("comparator":"<",)" + kUcum)), kDpAt,
       R"({"value":20,"comparator":"<"})"},
      {"incompressible",
       one(kDpCode + kRight + quantity("300", R"("comparator":">",)" + kUcum) +
           R"(,"interpretation":[{"coding":[{)" + kOwn + R"(,"code":"incompressible"}]}])"),
       kDpAt, R"({"finding":"incompressible","limit":300})"},
      {"no signal",
       one(kDpCode + kRight + R"(,"valueCodeableConcept":{"coding":[{)" + kOwn +
           R"(,"code":"no-signal"}]})"),
       kDpAt, R"({"finding":"no-signal"})"},
      {"absent",
       one(kDpCode + kRight +
           R"(,"dataAbsentReason":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/)"
           R"(data-absent-reason","code":"not-permitted"}],"text":"graft"})"),
       kDpAt, R"({"absent":"not-permitted","note":"graft"})"},
      {"note", one(kDpCode + kRight + quantity("112") + R"(,"note":[{"text":"oedema"}])"), kDpAt,
       R"({"value":112,"note":"oedema"})"},
      {"toe and sensor",
       one(own("toe-pressure") +
           R"(,"bodySite":{"coding":[{"system":"http://snomed.info/sct","code":"723730004"}]},)"
           R"("method":{"coding":[{)" +
           kOwn + R"(,"code":"method-laser-doppler"}]})" + quantity("41")),
       "/legs/right/toe", R"({"pressure":41,"digit":"great","sensor":"laser-doppler"})"},
      {"text with its unit", one(kDpCode + kRight + R"(,"valueString":"112 mmHg")"), kDpAt, "112"},
      {"word", one(own("history-dialysis") + R"(,"valueBoolean":true)"), "/history/dialysis",
       R"("yes")"},
      {"coded word",
       one(own("history-smoking") +
           R"(,"valueCodeableConcept":{"coding":[{"system":"http://snomed.info/sct",)"
           R"("code":"8517006"}]})"),
       "/history/smoking", R"("ex")"},
      {"grade without meaning",
       one(own("pulse-femoral") + kRight +
           R"(,"valueCodeableConcept":{"text":"grade 1 on the scale 0 to 4, 3 normal, whose )"
           R"(meaning the scale does not state"})"),
       "/legs/right/pulses/femoral", R"({"grade":1,"scale":"0-4-b"})"},
      {"arm panel", one(kArm), "/arms/left", R"({"systolic":138,"diastolic":82})"},
      {"panel and reading once",
       bundle(
           {kHead + kArm + "}", kHead + own("arm-systolic") +
                                    R"(,"bodySite":{"coding":[{"system":"http://snomed.info/sct",)"
                                    R"("code":"368208006"}]})" +
                                    quantity("138") + "}"}),
       "/arms/left/systolic", "138"},
      {"earlier figure",
       bundle({report("final", reference(1) + "," + reference(2)), kDp,
               R"({"resourceType":"Observation","status":"final","effectiveDateTime":)"
               R"("2025-10-05")" +
                   own("previous-ankle-brachial-index") + kRight +
                   quantity("0.91", R"("code":"1","system":"http://unitsofmeasure.org")") + "}"}),
       "/previous", R"({"measuredOn":"2025-10-05","legs":{"right":{"abi":0.91}}})"},
      {"deleted",
       bundle({kDp, withState(kHead + own("toe-pressure") + kRight + quantity("41") + "}",
                              "entered-in-error")},
              R"("timestamp":"2026-10-06T09:00:00Z",)"),
       kToeAt, R"({"absent":"error","note":"Withdrawn by the sender (status entered-in-error)."})"},
      {"cancelled",
       bundle({kDp, withState(kHead + own("toe-pressure") + kRight + "}", "cancelled")}), kToeAt,
       R"({"absent":"not-performed","note":"Cannot be obtained (status cancelled)."})"},
      {"identifier of the report", bundle({report("final", reference(1)), kDp}), "/identifier",
       R"({"system":"urn:r","value":"R-1"})"},
      {"identifier of the bundle", bundle({kDp}), "/identifier",
       R"({"system":"urn:b","value":"B-1"})"},
      {"preliminary report", bundle({report("partial", reference(1)), kDp}), "/status",
       R"("preliminary")"},
      {"preliminary reading",
       bundle({report("final", reference(1)), withState(kDp, "preliminary")}), "/status",
       R"("preliminary")"},
      {"corrected",
       bundle({report("appended", reference(1), R"("issued":"2026-10-06T09:00:00Z",)"), kDp}),
       "/revision", "213440400"},
      {"version of the report",
       bundle({report("corrected", reference(1), R"("meta":{"versionId":"4"},)"), kDp}),
       "/revision", "4"},
      {"withdrawn report",
       bundle({report("cancelled", reference(1), R"("issued":"2026-10-06T09:00:00Z",)"), kDp}),
       "/status", R"("entered-in-error")"},
      {"all deleted",
       bundle({withState(kDp, "entered-in-error")}, R"("timestamp":"2026-10-06T09:00:00Z",)"),
       "/status", R"("entered-in-error")"},
      {"panel", bundle({panel("final"), kDp}), "/status", R"("final")"},
      {"preliminary panel", bundle({panel("preliminary"), kDp}), "/status", R"("preliminary")"},
      {"preliminary panel of a report",
       bundle({panel("preliminary"), kDp, report("final", reference(0))}), "/status",
       R"("preliminary")"},
      {"corrected panel", bundle({panel("amended"), kDp}, R"("timestamp":"2026-10-06T09:00:00Z",)"),
       "/status", R"("corrected")"},
      {"withdrawn panel",
       bundle({panel("entered-in-error"), kDp}, R"("timestamp":"2026-10-06T09:00:00Z",)"),
       "/status", R"("entered-in-error")"},
      {"cancelled panel",
       bundle({panel("cancelled"), kDp}, R"("timestamp":"2026-10-06T09:00:00Z",)"), "/status",
       R"("entered-in-error")"},
      {"logical subject", bundle({kDp}), "/patient/identifiers",
       R"([{"system":"urn:p","value":"P-1"}])"},
      {"conditional subject",
       bundle({R"({"resourceType":"Observation","status":"final","subject":{"reference":)"
               R"("Patient?identifier=urn%3Ap%7CP%2D9"},)" +
               kDay + kDpCode + kRight + quantity("112") + "}"}),
       "/patient/identifiers", R"([{"system":"urn:p","value":"P-9"}])"},
      {"contained results",
       R"({"resourceType":"DiagnosticReport","status":"final","identifier":[{"system":"urn:r",)"
       R"("value":"R-2"}],"contained":[{"resourceType":"Patient","id":"p","identifier":)"
       R"([{"system":"urn:p","value":"P-1"}]},{"id":"a",)" +
           kDp.substr(1) + R"(],"subject":{"reference":"#p"},)" + kDay +
           R"(,"result":[{"reference":"#a"}]})",
       kDpAt, "112"},
      {"role",
       bundle({report("final", reference(1), R"("performer":[{"reference":"urn:uuid:2"}],)"), kDp,
               R"({"resourceType":"PractitionerRole","practitioner":{"display":"A. Nurse"},)"
               R"("organization":{"display":"Clinic"},"code":[{"text":"podiatrist"}]})"}),
       "/performer", R"({"name":"A. Nurse","role":"podiatrist"})"},
      {"organization of the visit",
       bundle({report("final", reference(1), R"("encounter":{"reference":"urn:uuid:2"},)"), kDp,
               R"({"resourceType":"Encounter","identifier":[{"system":"urn:v","value":"V-1"}],)"
               R"("serviceProvider":{"display":"Clinic"}})"}),
       "/organization", R"({"name":"Clinic"})"},
      {"device",
       bundle(
           {report("final", reference(1)),
            kHead + kDpCode + kRight + quantity("112") + R"(,"device":{"reference":"urn:uuid:2"}})",
            R"({"resourceType":"Device","manufacturer":"Invented","serialNumber":"S-1",)"
            R"("deviceName":[{"name":"D 8","type":"model-name"}]})"}),
       "/instruments",
       R"([{"kind":"doppler","manufacturer":"Invented","model":"D 8","serial":"S-1"}])"},
      {"note of the panel",
       bundle({kHead + appCode("PANEL") + R"(,"hasMember":[)" + reference(1) +
                   R"(],"note":[{"text":"tired"}]})",
               kDp}),
       "/note", R"("tired")"},
      {"code of the map", one(appCode("TOE") + appSite("RF") + quantity("41")), kToeAt, "41", true},
      {"code and site of the map", one(appCode("SYS") + appSite("DPA-R") + quantity("112")), kDpAt,
       "112", true},
      {"word of the map",
       one(appCode("SIG") + appSite("LF") +
           R"(,"valueCodeableConcept":{"coding":[{"system":"urn:w","code":"T3"}]})"),
       "/legs/left/doppler/dorsalisPedis", R"("triphasic")", true},
      {"absence of the map",
       one(appCode("TOE") + appSite("RF") + R"(,"dataAbsentReason":{"coding":[{"code":"ND"}]})"),
       kToeAt, R"({"absent":"not-performed"})", true},
      {"grade of the map", one(appCode("PULSE") + appSite("RF") + R"(,"valueInteger":2)"),
       "/legs/right/pulses/femoral", R"({"grade":2,"scale":"0-3"})", true},
      {"organization of the map", one(appCode("TOE") + appSite("RF") + quantity("41")),
       "/organization", R"({"name":"Clinic"})", true},
      {"clock of the map", withoutOffset(one(appCode("TOE") + appSite("RF") + quantity("41"))),
       "/measuredAt", R"("2026-10-05T10:20:00+01:00")", true},
  };
  return kRows;
}

INSTANTIATE_TEST_SUITE_P(Observations, Observed, testing::ValuesIn(becomes()),
                         [](const auto& tested) {
                           std::string name = tested.param.name;
                           std::replace(name.begin(), name.end(), ' ', '_');
                           return name;
                         });

std::string ofType(std::string bytes, const std::string& type) {
  return bytes.replace(bytes.find("collection"), 10, type);
}

struct Remarked {
  const char* rule;
  std::string bytes;
  std::string place;
};

const std::vector<Remarked>& remarks() {
  static const std::vector<Remarked> kRows{
      {"fhir-bundle-type", ofType(bundle({kDp}), "history"), "Bundle type"},
      {"fhir-bundle-type", R"({"resourceType":"Bundle","type":"batch-response","entry":[]})",
       "Bundle type"},
      {"fhir-cancelled-value", bundle({withState(kDp, "cancelled")}), "entry 0 status"},
      {"fhir-changed-when", bundle({withState(kDp, "corrected")}), "Bundle timestamp"},
      {"fhir-computed",
       bundle({kDp, kHead +
                        R"(,"code":{"coding":[{"system":"http://loinc.org",)"
                        R"("code":"77194-9"}]})" +
                        kRight + quantity("0.92", R"("unit":"1")") + "}"}),
       "entry 1"},
      {"fhir-correction-whole",
       bundle({report("corrected", reference(1), R"("meta":{"versionId":"4"},)"), kDp}),
       "entry 0 status"},
      {"fhir-deletion",
       bundle({kDp}).replace(bundle({kDp}).size() - 2, 2,
                             R"(,{"request":{"method":"DELETE","url":"Observation/1"}}]})"),
       "entry 1"},
      {"fhir-focus", one(kDpCode + kRight + quantity("112") + R"(,"focus":[{"display":"x"}])"),
       "entry 0 focus"},
      {"fhir-identity",
       R"({"resourceType":"Bundle","type":"collection","entry":[{"resource":)" + kDp + "}]}",
       "entry 0"},
      {"fhir-interpretation",
       one(kDpCode + kRight + quantity("112") + R"(,"interpretation":[{"text":"low"}])"),
       "entry 0 interpretation"},
      {"fhir-modifier",
       one(kDpCode + kRight + quantity("112") + R"(,"modifierExtension":[{"url":"urn:not"}])"),
       "entry 0"},
      {"fhir-observation-again", bundle({kDp, kDp}), "entry 1"},
      {"fhir-observation-empty", one(kDpCode + kRight), "entry 0"},
      {"fhir-observation-status", bundle({withState(kDp, "registered")}), "entry 0 status"},
      {"fhir-observation-status", bundle({report("unknown", reference(1)), kDp}), "entry 0 status"},
      {"fhir-observation-status", bundle({panel("registered"), kDp}), "entry 0 status"},
      {"fhir-observation-status", bundle({panel("unknown"), kDp}), "entry 0 status"},
      {"fhir-observation-status", bundle({panel("unknown"), kDp, report("final", reference(0))}),
       "entry 0 status"},
      {"fhir-observation-unmapped", bundle({kDp, kHead + appCode("STEPS") + quantity("9") + "}"}),
       "entry 1 code"},
      {"fhir-observation-value", one(kDpCode + kRight + R"(,"valueSampledData":{"data":"1 2"})"),
       "entry 0 valueSampledData"},
      {"fhir-observations-none", one(appCode("STEPS") + quantity("9")), "entry 0"},
      {"fhir-resource", kDp, "resourceType"},
      {"fhir-resource", R"({"resourceType":"Bundle","type":"collection","entry":[]})",
       "resourceType"},
      {"fhir-subject-kind",
       bundle({R"({"resourceType":"Observation","status":"final","subject":{"reference":)"
               R"("https://server.example/Group/7"},)" +
               kDay + kDpCode + kRight + quantity("112") + "}"}),
       "entry 0 subject"},
      {"fhir-subjects",
       bundle({report("final", reference(1)), std::string(kDp).replace(kDp.find("P-1"), 3, "P-2")}),
       "entry 0 subject"},
      {"fhir-time", bundle({report("final", reference(1)), on(kDp, "2026-13")}),
       "entry 1 effectiveDateTime"},
      {"fhir-times-apart",
       bundle({report("final", reference(1) + "," + reference(2)), kDp, on(kToe, "2024-01-05")}),
       "entry 0 effectiveDateTime"},
      {"fhir-times-apart", bundle({report("final", reference(1)), on(kDp, "2026-10-05T22:20:01")}),
       "entry 1 effectiveDateTime"},
      {"fhir-times-differ", bundle({kDp, on(kToe, "2026-10-05T22:20:00")}),
       "entry 1 effectiveDateTime"},
      {"fhir-unit-missing", one(kDpCode + kRight + R"(,"valueQuantity":{"value":112})"),
       "entry 0 valueQuantity"},
      {"fhir-unit-missing", one(kDpCode + kRight + R"(,"valueInteger":112)"),
       "entry 0 valueInteger"},
      {"fhir-unit-missing", one(kDpCode + kRight + R"(,"valueString":">112")"),
       "entry 0 valueString"},
      {"fhir-value-and-reason",
       one(kDpCode + kRight + quantity("112") + R"(,"dataAbsentReason":{"text":"no"})"), "entry 0"},
      {"fhir-value-missing", one(kDpCode + kRight + R"(,"valueQuantity":{"unit":"mmHg"})"),
       "entry 0 valueQuantity"},
      {"fhir-unit", one(kDpCode + kRight + quantity("112", R"("unit":"mbar")")),
       "entry 0 valueQuantity"},
      {"csv-side", one(kDpCode + quantity("112")), "entry 0 code"},
      {"csv-side",
       one(kDpCode +
           R"(,"bodySite":{"coding":[{"system":"http://snomed.info/sct",)"
           R"("code":"6685009"},{"system":"http://snomed.info/sct","code":"51636004"}]})" +
           quantity("112")),
       "entry 0 bodySite"},
      {"csv-reading-twice", bundle({kDp, kHead + kDpCode + kRight + quantity("116") + "}"}),
       "entry 1 valueQuantity"},
  };
  return kRows;
}

class Doubted : public testing::TestWithParam<Remarked> {};

TEST_P(Doubted, Remarked) {
  const auto texts = read(GetParam().bytes);
  ASSERT_EQ(texts.size(), 1U);
  const Issues& issues = texts.front().issues;
  const auto found = std::find_if(issues.begin(), issues.end(),
                                  [](const Issue& each) { return each.rule == GetParam().rule; });
  ASSERT_NE(found, issues.end()) << (issues.empty() ? "none" : issues.front().rule);
  EXPECT_EQ(found->place, GetParam().place);
  EXPECT_EQ(found->text.find('{'), std::string::npos) << found->text;
  EXPECT_EQ(found->mend.find('{'), std::string::npos) << found->mend;
  ASSERT_TRUE(texts.front().original);
  EXPECT_EQ(texts.front().original->rows, GetParam().bytes);
}

INSTANTIATE_TEST_SUITE_P(Observations, Doubted, testing::ValuesIn(remarks()),
                         [](const auto& tested) {
                           std::string name = tested.param.rule + std::to_string(tested.index);
                           std::erase(name, '-');
                           return name;
                         });

TEST(ObservationRules, AreAllFired) {
  std::set<std::string> fired;
  for (const Remarked& each : remarks()) fired.insert(each.rule);
  for (const Rule& rule : tables().rules) {
    if (!rule.id.starts_with("fhir-") || rule.id.starts_with("fhir-form-")) continue;
    EXPECT_TRUE(fired.contains(rule.id)) << rule.id;
  }
}

TEST(ObservationRules, StaySilentOnWhatIsRight) {
  EXPECT_TRUE(read(bundle({report("final", reference(1)), kDp})).front().issues.empty());
}

TEST(Computed, IsToldWithItsFigureAndSide) {
  const std::string index =
      kHead + own("ankle-brachial-index") + kRight + quantity("0.92", R"("unit":"1")") + "}";
  const auto texts = read(bundle({kDp, index}));
  ASSERT_EQ(texts.front().issues.size(), 1U);
  EXPECT_NE(texts.front().issues.front().text.find("ankle-brachial-index 0.92 (right)"),
            std::string::npos);
}

std::string met(std::string observation, const std::string& encounter) {
  return observation.insert(1, R"("encounter":{"reference":")" + encounter + "\"},");
}

struct Together {
  const char* name;
  std::vector<std::string> resources;
  std::vector<std::string> places;  ///< of the texts
};

class Groups : public testing::TestWithParam<Together> {};

TEST_P(Groups, AreTold) {
  std::vector<std::string> places;
  for (const auto& text : read(bundle(GetParam().resources)))
    places.push_back(text.original->place);
  EXPECT_EQ(places, GetParam().places);
}

const std::vector<Together>& together() {
  static const std::vector<Together> kRows{
      {"of one day", {kDp, kToe}, {"entries 0 to 1"}},
      {"of two days", {kDp, on(kToe, "2026-10-06")}, {"entry 0", "entry 1"}},
      {"of one encounter",
       {met(kDp, "E/1"), met(on(kToe, "2026-10-06"), "E/1")},
       {"entries 0 to 1"}},
      {"of two encounters", {met(kDp, "E/1"), met(kToe, "E/2")}, {"entry 0", "entry 1"}},
      {"without one beside one", {kDp, met(kToe, "E/1")}, {"entries 0 to 1"}},
      {"without one beside two",
       {met(kDp, "E/1"), met(kToe, "E/2"),
        kHead + own("history-dialysis") + R"(,"valueBoolean":true})"},
       {"entry 0", "entry 1", "entry 2"}},
      {"of two patients",
       {kDp, std::string(kToe).replace(kToe.find("P-1"), 3, "P-2")},
       {"entry 0", "entry 1"}},
      {"beside the only report", {report("final", reference(1)), kDp, kToe}, {"entries 0 to 2"}},
      {"beside two reports",
       {report("final", reference(2)), report("final", reference(3)), kDp, kToe,
        kHead + own("history-dialysis") + R"(,"valueBoolean":true})"},
       {"entries 0 to 2", "entries 1 to 3", "entry 4"}},
      {"beside a report of other things",
       {report("final", reference(1)), kHead + appCode("GLU") + quantity("7") + "}", kDp},
       {"entry 0", "entry 2"}},
      {"members of members",
       {report("final", reference(1)),
        R"({"resourceType":"Observation","status":"final","hasMember":[)" + reference(2) + "]}",
        R"({"resourceType":"Observation","status":"final","hasMember":[)" + reference(1) + "," +
            reference(3) + "]}",
        on(kDp, "2026-12-01")},
       {"entries 0 to 3"}},
  };
  return kRows;
}

INSTANTIATE_TEST_SUITE_P(Bundles, Groups, testing::ValuesIn(together()), [](const auto& tested) {
  std::string name = tested.param.name;
  std::replace(name.begin(), name.end(), ' ', '_');
  return name;
});

TEST(SeveralOfABundle, KeepOnlyTheirOwnAndWhatIsShared) {
  const std::string patient = R"({"resourceType":"Patient","id":"p"})";
  const std::string other = R"({"resourceType":"Patient","id":"q"})";
  const std::string toe =
      on(kToe, "2026-10-06").insert(1, R"("performer":[{"reference":"Patient/p"}],)");
  const auto texts = read(bundle({kDp, toe, patient, other}));
  ASSERT_EQ(texts.size(), 2U);
  const Result<json::Value> kept = json::read(texts[1].original->rows);
  ASSERT_TRUE(kept);
  ASSERT_EQ(kept->list("entry").size(), 2U);
  EXPECT_EQ(kept->list("entry")[1].member("resource")->text("resourceType"), "Patient");
  EXPECT_NE(texts[1].original->rows.find(toe), std::string::npos);
}

TEST(WhatTheMapIgnores, IsNotRemarkedOn) {
  const std::string steps = R"(,"code":{"text":"Steps"})";
  const auto texts = read(bundle({kHead + appCode("TOE") + appSite("RF") + quantity("41") + "}",
                                  kHead + steps + quantity("9") + "}"}),
                          mapped());
  ASSERT_EQ(texts.size(), 1U);
  EXPECT_TRUE(texts.front().issues.empty());
  EXPECT_EQ(at(texts.front(), "/identifier/system"), R"("https://app.example/assessments")");
}

TEST(ABundleOfOurs, HasTheIdentifierOfItsAssessment) {
  std::string made = report("final", reference(1));
  made.replace(made.find("urn:r"), 5, "https://footbridge.example/id/diagnosticreport");
  const std::string provenance =
      R"({"resourceType":"Provenance","target":[)" + reference(0) +
      R"(],"entity":[{"role":"source","what":{"identifier":{"system":"urn:a","value":"A-1"}}}]})";
  const auto texts = read(bundle({made, kDp, provenance}));
  ASSERT_EQ(texts.size(), 1U);
  EXPECT_EQ(at(texts.front(), "/identifier"), R"({"system":"urn:a","value":"A-1"})");
}

}  // namespace
}  // namespace footbridge::fhir
