#include "deliver/folder.hpp"

#include <gtest/gtest.h>
#include <unistd.h>

#include "core/file.hpp"

namespace footbridge::deliver {
namespace {

class FolderTest : public ::testing::Test {
 protected:
  ~FolderTest() override { std::filesystem::remove_all(folder_.path); }

  std::size_t files() const {
    std::size_t out = 0;
    for (const auto& each : std::filesystem::recursive_directory_iterator(folder_.path)) {
      out += each.is_regular_file() ? 1U : 0U;
    }
    return out;
  }

  config::Folder folder_{
      std::filesystem::temp_directory_path() / ("footbridge-folder-" + std::to_string(::getpid())),
      true};
};

constexpr std::string_view kBundle =
    R"({"resourceType":"Bundle","entry":[{"resource":{"resourceType":"Observation","n": 0.90}},)"
    R"({"resource":{"resourceType":"Device"}},{"resource":{"resourceType":"Observation"}}]})";

TEST_F(FolderTest, WritesBundleAndResourcesByTypeByteForByte) {
  EXPECT_EQ(*fileBundle(folder_, "A-1", kBundle), Filed::Written);
  EXPECT_EQ(*readFile(folder_.path / "A-1.json"), kBundle);
  EXPECT_EQ(*readFile(folder_.path / "ndjson" / "Observation.A-1.ndjson"),
            "{\"resourceType\":\"Observation\",\"n\": 0.90}\n{\"resourceType\":\"Observation\"}\n");
  EXPECT_EQ(files(), 3U);
}

TEST_F(FolderTest, ASecondTimeAddsNothing) {
  EXPECT_EQ(*fileBundle(folder_, "A-1", kBundle), Filed::Written);
  EXPECT_EQ(*fileBundle(folder_, "A-1", kBundle), Filed::Present);
  EXPECT_EQ(files(), 3U);
}

TEST_F(FolderTest, OtherContentIsNeverOverwritten) {
  EXPECT_TRUE(fileBundle(folder_, "A-1", kBundle));
  const Result<Filed> other = fileBundle(folder_, "A-1", "{}");
  ASSERT_FALSE(other);
  EXPECT_EQ(other.issues()[0].type, IssueType::Duplicate);
  EXPECT_EQ(*readFile(folder_.path / "A-1.json"), kBundle);
}

TEST_F(FolderTest, WhatACrashLeftHalfDoneIsCompleted) {
  EXPECT_TRUE(fileBundle(folder_, "A-1", kBundle));
  std::filesystem::remove(folder_.path / "A-1.json");
  std::filesystem::remove(folder_.path / "ndjson" / "Device.A-1.ndjson");
  EXPECT_EQ(*fileBundle(folder_, "A-1", kBundle), Filed::Written);
  EXPECT_EQ(files(), 3U);
}

TEST_F(FolderTest, AFolderThatCannotBeIsTold) {
  const config::Folder below{std::filesystem::path("/dev/null/below"), false};
  const Result<Filed> filed = fileBundle(below, "A-1", kBundle);
  ASSERT_FALSE(filed);
  EXPECT_EQ(filed.issues()[0].type, IssueType::NoStore);
  EXPECT_FALSE(probeFolder(below).empty());
  EXPECT_TRUE(probeFolder(folder_).empty());
  EXPECT_EQ(files(), 0U);
}

}  // namespace
}  // namespace footbridge::deliver
