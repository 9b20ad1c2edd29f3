// What was stored beside what was sent: every change somebody might act on is found, and what
// servers add or tidy is not taken for one.

#include "deliver/compare.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace footbridge::deliver {
namespace {

constexpr std::string_view kSent =
    R"({"resourceType":"Observation","status":"final",)"
    R"("code":{"coding":[{"system":"urn:s","code":"abi","display":"ABI"}],"text":"ABI"},)"
    R"("subject":{"reference":"Patient?identifier=a%7C1"},)"
    R"("effectiveDateTime":"2026-10-05T10:20:00+01:00",)"
    R"("valueQuantity":{"value":0.90,"comparator":"<","unit":"mmHg","system":"urn:u","code":"mm[Hg]"},)"
    R"("dataAbsentReason":{"coding":[{"system":"urn:d","code":"unknown"}]},)"
    R"("bodySite":{"coding":[{"system":"urn:b","code":"left"}]},)"
    R"("method":{"coding":[{"system":"urn:m","code":"doppler"}]},)"
    R"("component":[{"code":{"coding":[{"system":"urn:c","code":"x"}]},"valueString":"yes"}]})";

std::vector<Difference> differences(std::string_view stored) {
  const Result<json::Value> sent = json::read(kSent);
  const Result<json::Value> other = json::read(stored);
  if (!sent || !other) return {{"unreadable", "", ""}};
  return compare(*sent, *other, [](std::string_view a, std::string_view b) {
    return a == b || (a == "Patient?identifier=a%7C1" && b == "Patient/7");
  });
}

std::string edited(std::string_view from, std::string_view to) {
  std::string out(kSent);
  const std::size_t at = out.find(from);
  if (at == std::string::npos) return "not there";
  return out.replace(at, from.size(), to);
}

struct Edit {
  const char* name;
  std::string_view from;
  std::string_view to;
};

void PrintTo(const Edit& edit, std::ostream* out) { *out << edit.name; }

class Changed : public ::testing::TestWithParam<Edit> {};
class Tidied : public ::testing::TestWithParam<Edit> {};

TEST_P(Changed, IsFound) {
  const auto found = differences(edited(GetParam().from, GetParam().to));
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NE(found[0].path, "unreadable");
}

TEST_P(Tidied, IsNoDifference) {
  for (const Difference& each : differences(edited(GetParam().from, GetParam().to))) {
    ADD_FAILURE() << each.path << ": " << each.sent << " / " << each.stored;
  }
}

constexpr Edit kChanged[]{
    {"Status", "\"final\"", "\"preliminary\""},
    {"Code", "\"abi\"", "\"tbi\""},
    {"CodeSystem", "urn:s", "urn:t"},
    {"Subject", "Patient?identifier=a%7C1", "Patient/8"},
    {"Time", "10:20:00+01:00", "10:20:00+02:00"},
    {"TimeGone", R"("effectiveDateTime":"2026-10-05T10:20:00+01:00",)", ""},
    {"Value", "0.90", "0.91"},
    {"Rounded", "0.90", "1"},
    {"ValueGone", "\"value\":0.90,", ""},
    {"Comparator", "\"<\"", "\">\""},
    {"ComparatorGone", R"("comparator":"<",)", ""},
    {"Unit", "\"mmHg\"", "\"kPa\""},
    {"UnitCode", "mm[Hg]", "kPa"},
    {"UnitSystem", "urn:u", "urn:v"},
    {"Absence", "\"unknown\"", "\"masked\""},
    {"AbsenceGone", R"("dataAbsentReason":{"coding":[{"system":"urn:d","code":"unknown"}]},)", ""},
    {"BodySite", "\"left\"", "\"right\""},
    {"BodySiteGone", R"("bodySite":{"coding":[{"system":"urn:b","code":"left"}]},)", ""},
    {"Method", "\"doppler\"", "\"palpation\""},
    {"Component", "\"yes\"", "\"no\""},
    {"ComponentAdded", R"("component":[)",
     R"("component":[{"code":{"coding":[{"system":"urn:c","code":"y"}]},"valueString":"no"},)"},
    {"AnotherValue", "\"valueQuantity\"", R"("valueString":"low","valueQuantity")"},
    {"ModifierAdded", "\"status\"", R"("modifierExtension":[{"url":"urn:not"}],"status")"},
    {"Type", "\"resourceType\":\"Observation\"", "\"resourceType\":\"Basic\""},
};

constexpr Edit kTidied[]{
    {"Nothing", "", ""},
    {"TrailingZero", "0.90", "0.9"},
    {"OtherZone", "10:20:00+01:00", "09:20:00Z"},
    {"Meta", "\"status\"", R"("id":"1","meta":{"versionId":"2"},"text":{"div":"<p/>"},"status")"},
    {"Display", "\"display\":\"ABI\"", "\"display\":\"Index\""},
    {"MoreCodings", "\"coding\":[{\"system\":\"urn:s\"",
     R"("coding":[{"system":"urn:o","code":"9"},{"system":"urn:s")"},
    {"Resolved", "Patient?identifier=a%7C1", "Patient/7"},
    {"SubjectNamed", "\"reference\"", "\"display\":\"Somebody\",\"reference\""},
    {"Note", "\"status\"", R"("note":[{"text":"x"}],"status")"},
};

template <class Tested>
std::string nameOf(const Tested& tested) {
  return tested.param.name;
}

INSTANTIATE_TEST_SUITE_P(Compare, Changed, ::testing::ValuesIn(kChanged),
                         [](const auto& tested) { return nameOf(tested); });
INSTANTIATE_TEST_SUITE_P(Compare, Tidied, ::testing::ValuesIn(kTidied),
                         [](const auto& tested) { return nameOf(tested); });

// A comparator where none was sent turns "90" into "below 90".
TEST(Compare, AComparatorThatIsAddedIsADifference) {
  const auto sent = json::read(R"({"resourceType":"Observation","valueQuantity":{"value":90}})");
  const auto stored =
      json::read(R"({"resourceType":"Observation","valueQuantity":{"value":90,"comparator":"<"}})");
  const auto same = [](std::string_view a, std::string_view b) { return a == b; };
  ASSERT_EQ(compare(*sent, *stored, same).size(), 1U);
  EXPECT_TRUE(compare(*sent, *sent, same).empty());
}

TEST(Compare, OfAReportTheConclusionCounts) {
  const auto sent = json::read(R"({"resourceType":"DiagnosticReport","conclusion":"low"})");
  const auto stored = json::read(R"({"resourceType":"DiagnosticReport","conclusion":"high"})");
  const auto same = [](std::string_view a, std::string_view b) { return a == b; };
  EXPECT_EQ(compare(*sent, *stored, same).size(), 1U);
}

// A guard: whatever is compared is changed in some case above.
TEST(Compare, EveryComparedMemberIsChangedInACase) {
  for (const std::string_view member : comparedMembers("Observation")) {
    const bool hit = std::any_of(std::begin(kChanged), std::end(kChanged), [&](const Edit& edit) {
      const auto found = differences(edited(edit.from, edit.to));
      return !found.empty() && found[0].path.starts_with(member);
    });
    EXPECT_TRUE(hit) << member;
  }
}

}  // namespace
}  // namespace footbridge::deliver
