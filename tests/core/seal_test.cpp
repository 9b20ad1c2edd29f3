#include "core/seal.hpp"

#include <gtest/gtest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <fstream>

#include "core/file.hpp"

namespace footbridge {
namespace {

class SealTest : public ::testing::Test {
 protected:
  SealTest() { std::filesystem::create_directories(folder_); }
  ~SealTest() override { std::filesystem::remove_all(folder_); }

  Sealer sealer(const std::string& name) {
    return *Sealer::fromKeyFile(folder_ / name, Sealer::Absent::Create);
  }

  std::filesystem::path folder_ =
      std::filesystem::temp_directory_path() / ("footbridge-seal-" + std::to_string(::getpid()));
};

TEST_F(SealTest, OpensWhatItSealedOnlyUnchangedAndInItsPlace) {
  const Sealer mine = sealer("a");
  const std::string sealed = mine.seal("ankle 98", "body/1");
  EXPECT_EQ(mine.open(sealed, "body/1"), "ankle 98");
  EXPECT_EQ(sealed.find("ankle"), std::string::npos);
  EXPECT_EQ(mine.open(sealed, "body/2"), std::nullopt);
  for (std::size_t i = 0; i < sealed.size(); ++i) {
    std::string changed = sealed;
    changed[i] = static_cast<char>(changed[i] ^ 1);
    EXPECT_EQ(mine.open(changed, "body/1"), std::nullopt) << i;
  }
  EXPECT_EQ(mine.open(sealed.substr(1), "body/1"), std::nullopt);
  EXPECT_EQ(mine.open("", "body/1"), std::nullopt);
  EXPECT_EQ(mine.open(mine.seal("", "x"), "x"), "");
}

TEST_F(SealTest, TheSameTextIsSealedDifferentlyEachTime) {
  const Sealer mine = sealer("a");
  EXPECT_NE(mine.seal("same", "c"), mine.seal("same", "c"));
}

TEST_F(SealTest, TheKeyFileIsMadeOnceForThisUserOnlyAndReadAgain) {
  const std::string sealed = sealer("a").seal("text", "c");
  EXPECT_EQ(sealer("a").open(sealed, "c"), "text");
  struct stat status = {};
  ASSERT_EQ(::stat((folder_ / "a").c_str(), &status), 0);
  EXPECT_EQ(status.st_mode & 0777U, 0600U);
  EXPECT_EQ(sealer("b").open(sealed, "c"), std::nullopt);
}

TEST_F(SealTest, HashesTellNothingWithoutTheKey) {
  const Sealer mine = sealer("a");
  EXPECT_EQ(mine.keyedHash("patient"), sealer("a").keyedHash("patient"));
  EXPECT_NE(mine.keyedHash("patient"), mine.keyedHash("patienu"));
  EXPECT_NE(mine.keyedHash("patient"), sealer("b").keyedHash("patient"));
  EXPECT_EQ(mine.keyedHash("patient").size(), 16U);
}

TEST_F(SealTest, RefusesKeyFilesThatCannotBeRight) {
  const auto why = [&](const std::string& name) {
    const Result<Sealer> result = Sealer::fromKeyFile(folder_ / name, Sealer::Absent::Refuse);
    return result ? std::string() : result.issues()[0].text;
  };
  EXPECT_NE(why("none").find("not there"), std::string::npos);
  ASSERT_TRUE(createSecretFile(folder_ / "short", "abc\n").empty());
  EXPECT_NE(why("short").find("64"), std::string::npos);
  sealer("open");
  ASSERT_EQ(::chmod((folder_ / "open").c_str(), 0644), 0);
  EXPECT_NE(why("open").find("others"), std::string::npos);
  EXPECT_FALSE(createSecretFile(folder_ / "short", "again").empty()) << "must not be overwritten";
}

}  // namespace
}  // namespace footbridge
