#include "deliver/token.hpp"

#include <gtest/gtest.h>

#include <array>

#include "deliver/scopes.hpp"

namespace footbridge::deliver {
namespace {

struct Case {
  std::string name;
  Wire wire = Wire::Answered;
  long status = 200;
  std::string body;
  std::string token;                         ///< "" if none is to be had
  long long life = 0;                        ///< if there is one
  IssueType type = IssueType::BusinessRule;  ///< if there is none
  std::string says = {};                     ///< in the message
};

class GrantTest : public ::testing::TestWithParam<Case> {};

TEST_P(GrantTest, IsReadAsItIsMeant) {
  const Case& tested = GetParam();
  Answer answer;
  answer.wire = tested.wire;
  answer.status = tested.status;
  answer.body = tested.body;
  const Result<Grant> grant = readGrant(answer);
  ASSERT_EQ(static_cast<bool>(grant), !tested.token.empty());
  if (grant) {
    EXPECT_EQ(grant->token, tested.token);
    EXPECT_EQ(grant->life.count(), tested.life);
    return;
  }
  const Issue& issue = grant.issues().front();
  EXPECT_EQ(issue.type, tested.type);
  EXPECT_NE((issue.text + issue.mend).find(tested.says), std::string::npos) << issue.text;
  EXPECT_EQ(issue.text.find("secret"), std::string::npos);
}

// RFC 6749 sections 5.1 and 5.2; of other bodies nothing is repeated.
INSTANTIATE_TEST_SUITE_P(
    Answers, GrantTest,
    ::testing::Values(
        Case{"usual", Wire::Answered, 200,
             R"({"access_token":"abc","token_type":"bearer","expires_in":300,"scope":"s"})", "abc",
             300},
        Case{"typeInCapitals", Wire::Answered, 200,
             R"({"access_token":"abc","token_type":"Bearer","expires_in":"120"})", "abc", 120},
        Case{"noLife", Wire::Answered, 200, R"({"access_token":"abc","token_type":"bearer"})",
             "abc", 300},
        Case{"lifeOfZero", Wire::Answered, 200,
             R"({"access_token":"abc","token_type":"bearer","expires_in":0})", "abc", 300},
        Case{"endlessLife", Wire::Answered, 200,
             R"({"access_token":"abc","token_type":"bearer","expires_in":99999999})", "abc",
             86'400},
        Case{"anotherType", Wire::Answered, 200, R"({"access_token":"secret","token_type":"mac"})",
             "", 0, IssueType::BusinessRule, "no bearer token"},
        Case{"lineBreakInToken", Wire::Answered, 200,
             R"({"access_token":"secret\r\nX: y","token_type":"bearer"})", "", 0,
             IssueType::BusinessRule, "no bearer token"},
        Case{"page", Wire::Answered, 200, "<html></html>", "", 0, IssueType::BusinessRule,
             "no bearer token"},
        Case{"client", Wire::Answered, 401,
             R"({"error":"invalid_client","error_description":"no key k1\r\nis known"})", "", 0,
             IssueType::BusinessRule, "(status 401). It says: no key k1 is known.Check client"},
        Case{"longWordOfAClient", Wire::Answered, 401,
             R"({"error":"invalid_client","error_description":"bad secretsecretsecretsecretsecret)"
             R"(secretsecret here"})",
             "", 0, IssueType::BusinessRule, "It says: bad ... here"},
        Case{"description", Wire::Answered, 400,
             R"({"error":"invalid_target","error_description":"aud is not ours"})", "", 0,
             IssueType::BusinessRule, "gives no token (status 400). It says: aud is not ours"},
        Case{"clock", Wire::Answered, 401, R"({"error":"invalid_client"})", "", 0,
             IssueType::BusinessRule, "clock"},
        Case{"scope", Wire::Answered, 400, R"({"error":"invalid_scope"})", "", 0,
             IssueType::BusinessRule, "scopes"},
        Case{"unknownWord", Wire::Answered, 400, R"({"error":"secret"})", "", 0,
             IssueType::BusinessRule, "status 400"},
        Case{"busy", Wire::Answered, 503, "<html>secret</html>", "", 0, IssueType::Transient,
             "status 503"},
        Case{"tooMany", Wire::Answered, 429, "", "", 0, IssueType::Transient, "status 429"},
        Case{"redirected", Wire::Answered, 307, "", "", 0, IssueType::BusinessRule, "token_url"},
        Case{"unreachable", Wire::NotSent, 0, "", "", 0, IssueType::Transient, "cannot be reached"},
        Case{"brokenOff", Wire::Unknown, 0, "", "", 0, IssueType::Transient, "cannot be reached"},
        Case{"untrusted", Wire::Untrusted, 0, "", "", 0, IssueType::BusinessRule, "certificate"}),
    [](const auto& tested) { return tested.param.name; });

std::string decoded(const std::string& part) {
  static const std::string kDigits =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
  std::string out;
  std::uint32_t bits = 0;
  int count = 0;
  for (const char c : part) {
    bits = bits << 6U | static_cast<std::uint32_t>(kDigits.find(c));
    count += 6;
    if (count >= 8) out += static_cast<char>(bits >> (count -= 8) & 0xFFU);
  }
  return out;
}

// RFC 7523 section 3 with what SMART App Launch 2 adds: iss, sub, aud, jti, an end within five
// minutes, kid in the head. Dated back by a minute, since servers refuse what is ahead of them.
TEST(Assertion, SaysWhoAsksAndUntilWhen) {
  const SigningKey key = SigningKey::make(KeyKind::P384);
  const std::string jws = assertion(key, Algorithm::Es384,
                                    {"clinic", "https://a.example/token", "k1",
                                     std::chrono::system_clock::from_time_t(1'000'000), "n1"});
  const std::size_t first = jws.find('.');
  const std::size_t second = jws.find('.', first + 1);
  EXPECT_EQ(decoded(jws.substr(0, first)), R"({"alg":"ES384","typ":"JWT","kid":"k1"})");
  EXPECT_EQ(decoded(jws.substr(first + 1, second - first - 1)),
            R"({"iss":"clinic","sub":"clinic","aud":"https://a.example/token","jti":"n1",)"
            R"("iat":999940,"exp":1000240})");
  EXPECT_EQ(decoded(jws.substr(second + 1)).size(), 96U);
}

struct Scoped {
  std::string_view asked;
  std::string_view granted;
  std::string_view missing;
};

// SMART App Launch 2, scopes: letters of create, read, update, delete, search; read and write of
// version 1; * for every type.
constexpr std::array<Scoped, 11> kScoped{{
    {"system/Observation.crus", "", ""},
    {"system/Observation.crus", "system/Observation.crus", ""},
    {"system/Observation.crus", "system/Observation.cruds", ""},
    {"system/Observation.crus", "system/*.cruds", ""},
    {"system/Observation.crus", "system/*.*", ""},
    {"system/Observation.crus", "system/Observation.read system/Observation.write", ""},
    {"system/Observation.crus", "system/Observation.rs", "system/Observation.crus"},
    {"system/Observation.crus", "user/Observation.crus", "system/Observation.crus"},
    {"system/Patient.rs system/Observation.crus", "system/Patient.rs", "system/Observation.crus"},
    {"system/Patient.rs", "system/Patient.rs?_id=1", "system/Patient.rs"},
    {"custom other", "other", "custom"},
}};

TEST(Scopes, NamesWhatWasNotGranted) {
  for (const Scoped& each : kScoped) {
    EXPECT_EQ(ungranted(each.asked, each.granted), each.missing)
        << each.asked << " by " << each.granted;
  }
}

}  // namespace
}  // namespace footbridge::deliver
