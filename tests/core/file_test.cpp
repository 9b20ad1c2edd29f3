#include "core/file.hpp"

#include <gtest/gtest.h>
#include <sys/stat.h>
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

TEST(File, OnlyPlainFilesOfAPermittedSizeAreReadFromOthers) {
  const std::filesystem::path folder = freshFolder();
  ASSERT_TRUE(writeFileAtomically(folder / "ten", "0123456789").empty());
  std::filesystem::create_symlink(folder / "ten", folder / "link");
  ASSERT_EQ(::mkfifo((folder / "pipe").c_str(), 0600), 0);
  const Result<std::string> whole = readPlainFile(folder / "ten", 10);
  ASSERT_TRUE(whole);
  EXPECT_EQ(*whole, "0123456789");
  const Result<std::string> large = readPlainFile(folder / "ten", 9);
  ASSERT_FALSE(large);
  EXPECT_EQ(large.issues().front().type, IssueType::TooLong);
  for (const char* other : {"link", "pipe", ".", "none"}) {
    EXPECT_FALSE(readPlainFile(folder / other, 10)) << other;
  }
  std::filesystem::remove_all(folder);
}

TEST(File, NothingIsWrittenOverByAMove) {
  const std::filesystem::path folder = freshFolder();
  std::filesystem::create_directory(folder / "done");
  for (const char* name : {"a.csv", "a.2.csv", "a.3.csv"}) {
    ASSERT_TRUE(writeFileAtomically(folder / "a.csv", name).empty());
    const Result<std::string> moved = moveInto(folder / "a.csv", folder / "done");
    ASSERT_TRUE(moved);
    EXPECT_EQ(*moved, name);
    EXPECT_EQ(*readFile(folder / "done" / name), name);
  }
  EXPECT_FALSE(moveInto(folder / "a.csv", folder / "done"));
  ASSERT_TRUE(writeFileAtomically(folder / "a.csv", "").empty());
  const Result<std::string> nowhere = moveInto(folder / "a.csv", folder / "nowhere");
  ASSERT_FALSE(nowhere);
  EXPECT_EQ(nowhere.issues().front().type, IssueType::NoStore);
  EXPECT_TRUE(std::filesystem::exists(folder / "a.csv"));
  std::filesystem::remove_all(folder);
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

TEST(GrowingFile, SaysWhyItCannotBeWritten) {
  GrowingFile file("/no-such-folder/x");
  ASSERT_EQ(file.append("a").size(), 1U);
  EXPECT_EQ(file.append("a").front().type, IssueType::NoStore);
  EXPECT_FALSE(file.finish("/no-such-folder/x").empty());
}

}  // namespace
}  // namespace footbridge
