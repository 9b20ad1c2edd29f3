#include "core/file.hpp"

#include <gtest/gtest.h>
#include <unistd.h>

namespace footbridge {
namespace {

std::filesystem::path freshFolder() {
  const std::filesystem::path folder =
      std::filesystem::path{testing::TempDir()} / ("footbridge-file-" + std::to_string(getpid()));
  std::filesystem::remove_all(folder);
  std::filesystem::create_directories(folder);
  return folder;
}

TEST(File, WhatWasWrittenIsReadAndNothingElseIsLeft) {
  const std::filesystem::path folder = freshFolder();
  const std::string bytes("a\0b\r\n\xFF", 6);
  EXPECT_TRUE(writeFileAtomically(folder / "x", "old and longer").empty());
  EXPECT_TRUE(writeFileAtomically(folder / "x", bytes).empty());
  const Result<std::string> read = readFile(folder / "x");
  ASSERT_TRUE(read);
  EXPECT_EQ(*read, bytes);
  EXPECT_EQ(std::distance(std::filesystem::directory_iterator{folder}, {}), 1);
  std::filesystem::remove_all(folder);
}

TEST(File, WhatCannotBeReadOrWrittenSaysWhichAndWhy) {
  const std::filesystem::path folder = freshFolder();
  const Result<std::string> missing = readFile(folder / "none");
  ASSERT_FALSE(missing);
  EXPECT_EQ(missing.issues().front().type, IssueType::NotFound);
  EXPECT_NE(missing.issues().front().text.find("none"), std::string::npos);
  EXPECT_FALSE(readFile(folder));
  const Issues issues = writeFileAtomically(folder / "no-folder" / "x", "");
  ASSERT_EQ(issues.size(), 1U);
  EXPECT_EQ(issues.front().type, IssueType::NoStore);
  std::filesystem::remove_all(folder);
}

TEST(File, OfPatientsIsForItsOwnerAlone) {
  using std::filesystem::perms;
  const std::filesystem::path folder = freshFolder() / "kept";
  std::filesystem::create_directories(folder);
  std::filesystem::permissions(folder, perms::owner_all | perms::others_read);
  makePrivateFolder(folder);
  EXPECT_EQ(std::filesystem::status(folder).permissions(), perms::owner_all);
  EXPECT_TRUE(writeFileAtomically(folder / "x", "a", {.mode = 0600}).empty());
  EXPECT_EQ(std::filesystem::status(folder / "x").permissions(),
            perms::owner_read | perms::owner_write);
  std::filesystem::remove_all(folder.parent_path());
}

TEST(GrowingFile, TakesItsNameWholeOrLeavesNothing) {
  const std::filesystem::path folder = freshFolder();
  {
    GrowingFile left(folder / "left");
    EXPECT_TRUE(left.append("half").empty());
    GrowingFile finished(folder / "part-of-it");
    EXPECT_TRUE(finished.append("a").empty());
    EXPECT_TRUE(finished.append("b").empty());
    EXPECT_FALSE(std::filesystem::exists(folder / "named"));
    EXPECT_TRUE(finished.finish(folder / "named").empty());
  }
  const Result<std::string> read = readFile(folder / "named");
  ASSERT_TRUE(read);
  EXPECT_EQ(*read, "ab");
  EXPECT_EQ(std::distance(std::filesystem::directory_iterator{folder}, {}), 1);
  std::filesystem::remove_all(folder);
}

TEST(GrowingFile, TwoOfTheSameNameDoNotWriteIntoEachOther) {
  const std::filesystem::path folder = freshFolder();
  GrowingFile one(folder / "submission.csv");
  GrowingFile other(folder / "submission.csv");
  EXPECT_TRUE(one.append("one").empty());
  EXPECT_TRUE(other.append("other").empty());
  EXPECT_TRUE(one.finish(folder / "1.csv").empty());
  EXPECT_TRUE(other.finish(folder / "2.csv").empty());
  EXPECT_EQ(*readFile(folder / "1.csv"), "one");
  EXPECT_EQ(*readFile(folder / "2.csv"), "other");
  std::filesystem::remove_all(folder);
}

TEST(File, IsForThoseWhoMayReadIt) {
  using std::filesystem::perms;
  const std::filesystem::path folder = freshFolder();
  EXPECT_TRUE(writeFileAtomically(folder / "x", "old", {.mode = 0640}).empty());
  EXPECT_TRUE(writeFileAtomically(folder / "x", "new", {.mode = 0600}).empty());
  EXPECT_EQ(std::filesystem::status(folder / "x").permissions(),
            perms::owner_read | perms::owner_write);
  EXPECT_TRUE(writeFileAtomically(folder / "y", "many", {.synced = false}).empty());
  EXPECT_TRUE(syncDrive(folder).empty());
  EXPECT_EQ(syncDrive(folder / "none").front().type, IssueType::NoStore);
  EXPECT_EQ(*readFile(folder / "y"), "many");
  std::filesystem::remove_all(folder);
}

TEST(GrowingFile, SaysWhyItCannotBeWritten) {
  GrowingFile file("/no-such-folder/x");
  ASSERT_EQ(file.append("a").size(), 1U);
  EXPECT_EQ(file.append("a").front().type, IssueType::NoStore);
  EXPECT_FALSE(file.finish("/no-such-folder/x").empty());
}

}  // namespace
}  // namespace footbridge
