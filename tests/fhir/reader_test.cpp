// Forms made into texts in the input format: what each answer becomes, and every rule on forms.

#include "fhir/reader.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include "csv/tree.hpp"
#include "json/writer.hpp"

namespace footbridge::fhir {
namespace {

const Tables& tables() {
  static const Tables kTables = *embeddedTables();
  return kTables;
}

intake::Text read(const std::string& bytes) {
  static const Names kNames(tables());
  std::vector<intake::Text> out = textsOf({"form.json", bytes, {}}, kNames);
  return out.empty() ? intake::Text{} : out.front();
}

std::string form(const std::string& items, const std::string& status = "completed",
                 const std::string& more = "") {
  return R"({"resourceType":"QuestionnaireResponse","status":")" + status + "\"," + more +
         R"("identifier":{"system":"urn:x","value":"1"},"item":[)" + items + "]}";
}

std::string item(const std::string& link, const std::string& answers) {
  return R"({"linkId":")" + link + R"(","answer":[)" + answers + "]}";
}

std::string quantity(const std::string& inside) { return R"({"valueQuantity":{)" + inside + "}}"; }

const std::string kDp = "legs.right.ankle.dorsalisPedis";
const std::string kMmhg = R"(,"system":"http://unitsofmeasure.org","code":"mm[Hg]")";
const std::string kKpa = R"(,"system":"http://unitsofmeasure.org","code":"kPa")";
const std::string kOwn = R"("system":"https://footbridge.example/fhir/CodeSystem/footbridge")";

struct Becomes {
  const char* name;
  std::string bytes;
  std::string pointer;
  std::string value;  ///< as JSON
};

class What : public testing::TestWithParam<Becomes> {};

TEST_P(What, Becomes) {
  const intake::Text text = read(GetParam().bytes);
  EXPECT_TRUE(text.issues.empty()) << text.issues.front().text;
  const Result<json::Value> root = json::read(text.bytes);
  ASSERT_TRUE(root);
  const json::Value* found = csv::valueAt(*root, GetParam().pointer);
  ASSERT_NE(found, nullptr) << text.bytes;
  std::string got;
  json::appendValue(got, *found);
  EXPECT_EQ(got, GetParam().value);
}

INSTANTIATE_TEST_SUITE_P(
    Answers, What,
    testing::Values(
        Becomes{"quantity", form(item(kDp, quantity(R"("value":112)" + kMmhg))),
                "/legs/right/ankle/dorsalisPedis", R"({"value":112})"},
        Becomes{"digits", form(item(kDp, quantity(R"("value":16.0)" + kKpa))),
                "/legs/right/ankle/dorsalisPedis", R"({"value":16.0,"unit":"kPa"})"},
        Becomes{"comparator", form(item(kDp, quantity(R"("value":20,"comparator":"<")" + kMmhg))),
                "/legs/right/ankle/dorsalisPedis", R"({"value":20,"comparator":"<"})"},
        Becomes{"repeats",
                form(item(kDp, quantity(R"("value":112)" + kMmhg) + "," +
                                   quantity(R"("value":116)" + kMmhg))),
                "/legs/right/ankle/dorsalisPedis", R"({"repeats":[112,116]})"},
        Becomes{"absent",
                form(item(kDp + ".absent", R"({"valueCoding":{"code":"not-permitted"}})") + "," +
                     item(kDp + ".note", R"({"valueString":"graft"})")),
                "/legs/right/ankle/dorsalisPedis", R"({"absent":"not-permitted","note":"graft"})"},
        Becomes{"finding",
                form(item(kDp + ".finding",
                          "{\"valueCoding\":{" + kOwn + R"(,"code":"incompressible"}})") +
                     "," + item(kDp + ".limit", R"({"valueInteger":300})")),
                "/legs/right/ankle/dorsalisPedis", R"({"finding":"incompressible","limit":300})"},
        Becomes{"word",
                form(item("history.smoking",
                          "{\"valueCoding\":{" + kOwn + R"(,"code":"smoking-ex"}})")),
                "/history/smoking", R"({"value":"ex"})"},
        Becomes{"yes", form(item("history.dialysis", R"({"valueBoolean":true})")),
                "/history/dialysis", R"({"value":"yes"})"},
        Becomes{"final", form(""), "/status", R"("final")"},
        Becomes{"amended", form("", "amended"), "/status", R"("corrected")"},
        Becomes{"withdrawn", form("", "entered-in-error"), "/status", R"("entered-in-error")"},
        Becomes{"preliminary", form(item("status", R"({"valueString":"preliminary"})")), "/status",
                R"("preliminary")"},
        Becomes{"authored", form("", "completed", R"("authored":"2026-10-05T10:20:00+01:00",)"),
                "/measuredAt", R"("2026-10-05T10:20:00+01:00")"},
        Becomes{
            "logical subject",
            form("", "completed", R"("subject":{"identifier":{"system":"urn:p","value":"P-1"}},)"),
            "/patient/identifiers", R"([{"system":"urn:p","value":"P-1"}])"},
        Becomes{"given names",
                form(item("patient.given", R"({"valueString":"A"},{"valueString":"B"})")),
                "/patient/given", R"(["A","B"])"},
        Becomes{"instrument",
                form(R"({"linkId":"instruments","item":[)" +
                     item("instruments.serial", R"({"valueString":"S-1"})") + "]}"),
                "/instruments", R"([{"serial":"S-1"}])"}),
    [](const auto& tested) {
      std::string name = tested.param.name;
      std::replace(name.begin(), name.end(), ' ', '_');
      return name;
    });

struct Refused {
  const char* rule;
  std::string bytes;
  std::string place;
};

class Why : public testing::TestWithParam<Refused> {};

TEST_P(Why, Refused) {
  const intake::Text text = read(GetParam().bytes);
  ASSERT_EQ(text.issues.size(), 1U);
  EXPECT_EQ(text.issues.front().rule, GetParam().rule);
  EXPECT_EQ(text.issues.front().place, GetParam().place);
  EXPECT_EQ(text.issues.front().text.find('{'), std::string::npos);
  EXPECT_EQ(text.issues.front().mend.find('{'), std::string::npos);
  ASSERT_TRUE(text.original);
  EXPECT_EQ(text.original->rows, GetParam().bytes);
}

const std::vector<Refused>& refusals() {
  static const std::vector<Refused> kRefusals{
      {"fhir-form-answer", form(item("note", R"({"valueAttachment":{}})")), "item note"},
      {"fhir-form-several", form(item("note", R"({"valueString":"a"},{"valueString":"b"})")),
       "item note"},
      {"fhir-form-several",
       form(item(kDp,
                 quantity(R"("value":112)" + kMmhg) + "," + quantity(R"("value":16.0)" + kKpa))),
       "item " + kDp},
      {"fhir-form-status", form("", "in-progress"), "status"},
      {"fhir-form-status", form("", "stopped"), "status"},
      {"fhir-form-twice",
       form(item("note", R"({"valueString":"a"})") + "," + item("note", R"({"valueString":"a"})")),
       "item note"},
      {"fhir-form-unknown", form(item("legs.right.toe.presure", R"({"valueInteger":4})")),
       "item legs.right.toe.presure"},
      {"fhir-form-unknown", form(item("shoes", R"({"valueInteger":4})")), "item shoes"},
      {"fhir-resource", R"({"resourceType":"Patient"})", "resourceType"},
      {"fhir-unit-missing", form(item(kDp, quantity(R"("value":112)"))), "item " + kDp},
      {"fhir-value-missing", form(item(kDp, quantity(R"("unit":"mmHg")"))), "item " + kDp},
  };
  return kRefusals;
}

INSTANTIATE_TEST_SUITE_P(Forms, Why, testing::ValuesIn(refusals()), [](const auto& tested) {
  std::string name = tested.param.rule + std::to_string(tested.index);
  std::erase(name, '-');
  return name;
});

TEST(Rules, AreAllFired) {
  std::set<std::string> fired;
  for (const Refused& each : refusals()) fired.insert(each.rule);
  for (const Rule& rule : tables().rules) {
    if (!rule.id.starts_with("fhir-form-")) continue;  // observation_test.cpp fires the others
    EXPECT_TRUE(fired.contains(rule.id)) << rule.id;
  }
}

TEST(Bundles, GiveOneTextAForm) {
  static const Names kNames(tables());
  const std::string one = R"({"resource":)" + form("") + "}";
  const std::string bytes = R"({"resourceType":"Bundle","entry":[)" + one + "," + one + "]}";
  const std::vector<intake::Text> texts = textsOf({"b.json", bytes, {}}, kNames);
  ASSERT_EQ(texts.size(), 2U);
  EXPECT_EQ(texts[1].name, "b.json entry 1");
  EXPECT_EQ(texts[1].original->rows, form(""));
}

TEST(Places, AreThoseOfTheForm) {
  intake::Text text = read(form(item(kDp, quantity(R"("value":112.3)" + kMmhg))));
  Issues issues{
      issue(tables().rule("intake-pressure-fraction"), "/legs/right/ankle/dorsalisPedis/value")};
  intake::relocate(issues, *text.original, tables());
  EXPECT_EQ(issues.front().place, "item " + kDp);
  EXPECT_EQ(issues.front().mend, tables().rule("intake-pressure-fraction").mend.text());
}

}  // namespace
}  // namespace footbridge::fhir
