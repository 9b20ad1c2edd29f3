// What two answers of a terminology server say together of one code.

#include "deliver/terminology.hpp"

#include <gtest/gtest.h>

namespace footbridge::deliver {
namespace {

std::string parameters(std::string_view inside) {
  return "{\"resourceType\":\"Parameters\",\"parameter\":[" + std::string(inside) + "]}";
}

const std::string kFound = parameters(R"({"name":"display","valueString":"Ankle index"})");
const std::string kRetired =
    parameters(R"({"name":"display","valueString":"Ankle index"},{"name":"property","part":[)"
               R"({"name":"code","valueCode":"inactive"},{"name":"value","valueBoolean":true}]})");
const std::string kInUse =
    parameters(R"({"name":"display","valueString":"Ankle index"},{"name":"property","part":[)"
               R"({"name":"code","valueCode":"inactive"},{"name":"value","valueBoolean":false}]})");
const std::string kYes = parameters(R"({"name":"result","valueBoolean":true})");
const std::string kNo = parameters(
    R"({"name":"result","valueBoolean":false},{"name":"message","valueString":"not so called"})");
const std::string kRetiredInR6 =
    parameters(R"({"name":"result","valueBoolean":true},{"name":"inactive","valueBoolean":true})");
const std::string kMissing =
    R"({"resourceType":"OperationOutcome","issue":[{"severity":"error","code":"not-found",)"
    R"("details":{"text":"no such code"}}]})";

Verdict verdictOf(long status, const std::string& lookup, const std::string& validate) {
  const Result<CodeAnswer> out = readAnswers("Ankle index", status, lookup, 200, validate);
  EXPECT_TRUE(out);
  return out ? out->verdict : Verdict::Unknown;
}

TEST(Terminology, TellsWhatACodeIs) {
  EXPECT_EQ(verdictOf(200, kFound, kYes), Verdict::Active);
  EXPECT_EQ(verdictOf(200, kInUse, kYes), Verdict::Active);
  EXPECT_EQ(verdictOf(200, kFound, kNo), Verdict::WrongDisplay);
  EXPECT_EQ(verdictOf(200, kRetired, kYes), Verdict::Inactive);
  EXPECT_EQ(verdictOf(200, kFound, kRetiredInR6), Verdict::Inactive);
  EXPECT_EQ(verdictOf(404, kMissing, kNo), Verdict::Unknown);
  EXPECT_EQ(verdictOf(422, kMissing, kNo), Verdict::Unknown);
}

/// Yes, with a remark: as a server answers that warns of another display only.
const std::string kYesBut = parameters(
    R"({"name":"result","valueBoolean":true},{"name":"message","valueString":"called otherwise"})");

TEST(Terminology, ARemarkOnTheDisplayIsNoAgreement) {
  const auto verdict = [](std::string_view asked, const std::string& validate) {
    return readAnswers(asked, 200, kFound, 200, validate)->verdict;
  };
  EXPECT_EQ(verdict("Index of the ankle", kYesBut), Verdict::WrongDisplay);
  EXPECT_EQ(verdict("Index of the ankle", kYes), Verdict::Active) << "a synonym";
  EXPECT_EQ(verdict("ankle INDEX", kYesBut), Verdict::Active);
  EXPECT_EQ(verdict("", kYesBut), Verdict::Active) << "nothing was asked about a display";
}

TEST(Terminology, LoincSaysByItsStatusThatATermIsOutOfUse) {
  const auto withStatus = [](std::string_view status) {
    return parameters(
        R"({"name":"display","valueString":"Ankle index"},{"name":"property","part":[)"
        R"({"name":"code","valueCode":"STATUS"},{"name":"value","valueString":")" +
        std::string(status) + R"("}]})");
  };
  EXPECT_EQ(verdictOf(200, withStatus("DEPRECATED"), kYes), Verdict::Inactive);
  EXPECT_EQ(verdictOf(200, withStatus("ACTIVE"), kYes), Verdict::Active);
  EXPECT_EQ(verdictOf(200, withStatus("TRIAL"), kYes), Verdict::Active);
}

TEST(Terminology, KeepsWhatTheServerSays) {
  EXPECT_EQ(readAnswers("Ankle index", 404, kMissing, 200, kNo)->says, "no such code");
  EXPECT_EQ(readAnswers("Ankle index", 200, kFound, 200, kNo)->says, "not so called");
  EXPECT_EQ(readAnswers("Ankle index", 200, kFound, 200, kYes)->display, "Ankle index");
}

// Nothing follows for a code from a server that is broken, or none.
TEST(Terminology, TakesNoFaultForAnAnswer) {
  EXPECT_FALSE(readAnswers("Ankle index", 500, kMissing, 200, kYes));
  EXPECT_FALSE(readAnswers("Ankle index", 404, "<html>not found</html>", 200, kYes));
  EXPECT_FALSE(readAnswers("Ankle index", 200, "{}", 200, kYes));
  EXPECT_FALSE(readAnswers("Ankle index", 200, kFound, 401, kMissing));
  EXPECT_FALSE(readAnswers("Ankle index", 200, kFound, 200, kMissing));
}

}  // namespace
}  // namespace footbridge::deliver
