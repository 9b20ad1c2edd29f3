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

}  // namespace
}  // namespace footbridge
