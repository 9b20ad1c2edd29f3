// Who may ask, and how wrong tokens are slowed down.

#include <gtest/gtest.h>
#include <unistd.h>

#include "core/file.hpp"
#include "serve/target.hpp"
#include "serve/tokens.hpp"

namespace footbridge::serve {
namespace {

using std::chrono::milliseconds;

class InFolder : public testing::Test {
 protected:
  void SetUp() override { std::filesystem::create_directories(folder_); }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  std::filesystem::path folder_ = std::filesystem::path{testing::TempDir()} /
                                  ("footbridge-serve-" + std::to_string(::getpid()));
};

class TokenFile : public InFolder {};

TEST_F(TokenFile, KeepsOnlyDigestsAndFindsTheBearer) {
  const std::filesystem::path file = folder_ / "tokens";
  const auto form = addToken(file, "form", {Role::Submit}, "2026-11-26");
  const auto audit = addToken(file, "audit", {Role::Audit, Role::Look}, "2026-11-26");
  ASSERT_TRUE(form && audit);
  EXPECT_EQ(readFile(file)->find(*form), std::string::npos) << "the token itself is kept nowhere";
  const auto perms = std::filesystem::status(file).permissions();
  EXPECT_EQ(perms & std::filesystem::perms::others_read, std::filesystem::perms::none);
  const auto tokens = loadTokens(file);
  ASSERT_TRUE(tokens);
  const Token* found = findToken(*tokens, *audit);
  ASSERT_NE(found, nullptr);
  EXPECT_EQ(found->name, "audit");
  EXPECT_TRUE(found->may(Role::Look));
  EXPECT_FALSE(found->may(Role::Submit));
  EXPECT_EQ(findToken(*tokens, *audit + "x"), nullptr);
  EXPECT_EQ(findToken(*tokens, ""), nullptr);
  EXPECT_EQ(findToken(*tokens, found->digest), nullptr) << "who reads the file has no token";
}

TEST_F(TokenFile, ANameIsTakenOnceAndCanBeRevoked) {
  const std::filesystem::path file = folder_ / "tokens";
  const auto first = addToken(file, "form", {Role::Submit}, "2026-11-26");
  ASSERT_TRUE(first);
  const auto again = addToken(file, "form", {Role::Submit}, "2026-11-26");
  ASSERT_FALSE(again);
  EXPECT_EQ(again.issues().front().type, IssueType::Duplicate);
  EXPECT_TRUE(removeToken(file, "form").empty());
  EXPECT_EQ(findToken(*loadTokens(file), *first), nullptr);
  ASSERT_FALSE(removeToken(file, "form").empty());
}

TEST_F(TokenFile, AllFaultsAreToldAtOnceWithTheirLines) {
  const std::filesystem::path file = folder_ / "tokens";
  const std::string digest(64, 'a');
  ASSERT_TRUE(writeFileAtomically(file, "one submit " + digest + " 2026-11-26\n" + "two nothing " +
                                            digest + " 2026-11-26\n" +
                                            "three submit short 2026-11-26\n")
                  .empty());
  const auto tokens = loadTokens(file);
  ASSERT_FALSE(tokens);
  ASSERT_EQ(tokens.issues().size(), 2U);
  EXPECT_NE(tokens.issues()[0].text.find("line 2"), std::string::npos);
  EXPECT_NE(tokens.issues()[1].text.find("line 3"), std::string::npos);
}

TEST(Guard, WaitsLongerEachTimeAndForgivesARightOne) {
  Guard guard;
  const Guard::Moment now{};
  milliseconds before{0};
  for (int i = 0; i < 4; ++i) {
    const milliseconds wait = guard.wrong("192.0.2.1", now);
    EXPECT_GT(wait, before);
    before = wait;
  }
  for (int i = 0; i < 20; ++i) before = guard.wrong("192.0.2.1", now);
  EXPECT_LE(before, milliseconds(6'400));
  EXPECT_LT(guard.wrong("192.0.2.2", now), before) << "others are not slowed down";
  guard.right("192.0.2.1");
  EXPECT_LT(guard.wrong("192.0.2.1", now), before);
}

struct TargetCase {
  std::string target;
  bool sound;
  std::string path;
  std::vector<std::pair<std::string, std::string>> query;
};

class Target : public testing::TestWithParam<TargetCase> {};

TEST_P(Target, IsCutIntoPathAndQuery) {
  std::string path;
  std::vector<std::pair<std::string, std::string>> query;
  EXPECT_EQ(splitTarget(GetParam().target, path, query), GetParam().sound);
  if (!GetParam().sound) return;
  EXPECT_EQ(path, GetParam().path);
  EXPECT_EQ(query, GetParam().query);
}

INSTANTIATE_TEST_SUITE_P(
    Rfc3986, Target,
    testing::Values(TargetCase{"/assessments", true, "/assessments", {}},
                    TargetCase{"/a?map=a%20b&x=", true, "/a", {{"map", "a b"}, {"x", ""}}},
                    TargetCase{"/a?identifier=s%7Cv", true, "/a", {{"identifier", "s|v"}}},
                    TargetCase{"/a?x=%4", false, "", {}}, TargetCase{"/a?x=%zz", false, "", {}},
                    TargetCase{"", false, "", {}}, TargetCase{"http://a/b", false, "", {}},
                    TargetCase{"/a\tb", false, "", {}}, TargetCase{"/\xC3\xA4", false, "", {}}));

}  // namespace
}  // namespace footbridge::serve
