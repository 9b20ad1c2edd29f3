// The trail of what was asked: its chain, its files, and what a check of them finds.

#include "serve/trail.hpp"

#include <gtest/gtest.h>
#include <sys/resource.h>
#include <unistd.h>

#include <csignal>
#include <fstream>

#include "core/digest.hpp"
#include "core/file.hpp"

namespace footbridge::serve {
namespace {

constexpr std::string_view kMarch = "2026-03-31T23:59:59.000Z";
constexpr std::string_view kApril = "2026-04-01T00:00:00.000Z";
constexpr TrailLimits kNever{1ULL << 40U, false};
constexpr TrailLimits kAtOnce{1, false};
constexpr TrailLimits kMonthly{1ULL << 40U, true};

/// Stands in for the keyed hash of the outbox: what matters is that it depends on every byte.
std::string testHash(std::string_view text) { return sha256(text).substr(0, 16); }

Access access(const std::string& what, int outcome, std::string_view at = kMarch) {
  return {std::string(at), "form", "192.0.2.1", what, "row 1", outcome, "r-1"};
}

bool mentions(const Issues& issues, std::string_view place, std::string_view text) {
  for (const Issue& each : issues) {
    if (each.place == place && each.text.find(text) != std::string::npos) return true;
  }
  return false;
}

std::vector<std::string> linesOf(const std::string& text) {
  std::vector<std::string> out;
  for (std::size_t at = 0; at < text.size(); at = text.find('\n', at) + 1) {
    out.push_back(text.substr(at, text.find('\n', at) - at + 1));
  }
  return out;
}

class TrailFile : public testing::Test {
 protected:
  void SetUp() override { std::filesystem::create_directories(folder_); }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  TrailReport check(std::uint64_t from = 1) const { return verifyTrail(file_, testHash, from); }

  /// The same of a trail of one file with that text.
  TrailReport checkOf(const std::string& text) const {
    std::ofstream(file_, std::ios::trunc) << text;
    return check();
  }

  std::filesystem::path closed(std::uint64_t first) const { return closedName(file_, first); }

  void write(int count, const TrailLimits& limits, std::string_view at = kMarch) const {
    Result<Trail> trail = Trail::open(file_, testHash);
    ASSERT_TRUE(trail);
    for (int i = 0; i < count; ++i) {
      ASSERT_TRUE(trail->turn(limits, at).empty());
      ASSERT_TRUE(trail->note(access("POST /assessments", 201, at)).empty());
    }
  }

  /// Nine lines in three files.
  void threeFiles() const {
    write(3, kNever);
    for (int file = 0; file < 2; ++file) {
      write(1, kAtOnce);
      write(2, kNever);
    }
  }

  std::vector<std::uint64_t> numbersAfter(std::uint64_t after) const {
    std::vector<std::uint64_t> out;
    EXPECT_TRUE(readTrail(file_, after, [&](const TrailText& line) {
                  if (line.number > after) out.push_back(partsOf(line.text)->number);
                  return true;
                }).empty());
    return out;
  }

  std::filesystem::path folder_ = std::filesystem::path{testing::TempDir()} /
                                  ("footbridge-trail-" + std::to_string(::getpid()));
  std::filesystem::path file_ = folder_ / "audit.log";
};

TEST_F(TrailFile, GoesOnWhereItEnded) {
  for (int start = 0; start < 3; ++start) {
    Result<Trail> trail = Trail::open(file_, testHash);
    ASSERT_TRUE(trail);
    EXPECT_EQ(trail->lines(), static_cast<std::uint64_t>(2 * start));
    EXPECT_TRUE(trail->note(access("POST /assessments", 201)).empty());
    EXPECT_TRUE(trail->note(access("GET /metrics", 200)).empty());
    EXPECT_TRUE(trail->sync().empty());
  }
  const TrailReport report = check();
  EXPECT_EQ(report.lines, 6U);
  EXPECT_EQ(report.first, 1U);
  EXPECT_TRUE(report.issues.empty());
}

TEST_F(TrailFile, EveryChangeShows) {
  {
    Result<Trail> trail = Trail::open(file_, testHash);
    ASSERT_TRUE(trail);
    for (const int status : {201, 403, 200}) {
      ASSERT_TRUE(trail->note(access("POST /assessments", status)).empty());
    }
  }
  const std::string text = *readFile(file_);
  const std::vector<std::string> lines = linesOf(text);
  ASSERT_EQ(lines.size(), 3U);
  const std::string end = check().chain;
  EXPECT_FALSE(
      verifyTrail(file_, [](std::string_view) { return std::string(16, 'x'); }).issues.empty())
      << "another key";
  std::string changed = text;
  changed.replace(changed.find("403"), 3, "200");
  EXPECT_FALSE(checkOf(changed).issues.empty()) << "a line was changed";
  EXPECT_FALSE(checkOf(lines[0] + lines[2]).issues.empty()) << "one is missing";
  EXPECT_FALSE(checkOf(lines[1] + lines[2]).issues.empty()) << "the first is";
  EXPECT_FALSE(checkOf(lines[0] + lines[2] + lines[1]).issues.empty()) << "exchanged";
  EXPECT_FALSE(checkOf(text + "{}\n").issues.empty()) << "one was added";
  EXPECT_FALSE(checkOf(lines[0] + lines[0] + lines[1]).issues.empty()) << "one is there twice";
  // That the end is missing shows only beside what was noted elsewhere.
  const TrailReport cut = checkOf(lines[0] + lines[1]);
  EXPECT_TRUE(cut.issues.empty());
  EXPECT_NE(cut.chain, end);
}

TEST_F(TrailFile, AHalfLineIsCutOffAndAStrangeEndIsRefused) {
  write(1, kNever);
  std::ofstream(file_, std::ios::app) << "{\"n\":2,\"at\":\"20";
  EXPECT_TRUE(check().torn);
  {
    Result<Trail> trail = Trail::open(file_, testHash);
    ASSERT_TRUE(trail);
    EXPECT_EQ(trail->lines(), 1U);
    ASSERT_TRUE(trail->note(access("POST /assessments", 201)).empty());
  }
  EXPECT_TRUE(check().issues.empty());
  std::ofstream(file_, std::ios::app) << "another program wrote this\n";
  const Result<Trail> strange = Trail::open(file_, testHash);
  ASSERT_FALSE(strange);
  EXPECT_EQ(strange.issues().front().type, IssueType::Exception);
}

TEST_F(TrailFile, ALastLineThatDoesNotFollowIsRefusedAtTheStart) {
  write(3, kNever);
  std::string text = *readFile(file_);
  text.replace(text.rfind("201"), 3, "200");
  std::ofstream(file_, std::ios::trunc) << text;
  EXPECT_FALSE(Trail::open(file_, testHash));
}

TEST_F(TrailFile, TurnsOverBySizeAndCarriesTheChainOn) {
  threeFiles();
  EXPECT_TRUE(std::filesystem::exists(closed(1)));
  EXPECT_TRUE(std::filesystem::exists(closed(4)));
  EXPECT_EQ(closedParts(file_).size(), 2U);
  const auto rights = std::filesystem::status(closed(1)).permissions();
  EXPECT_EQ(rights & std::filesystem::perms::others_all, std::filesystem::perms::none);
  const TrailReport report = check();
  EXPECT_EQ(report.lines, 9U);
  EXPECT_TRUE(report.issues.empty());
  EXPECT_EQ(numbersAfter(0), (std::vector<std::uint64_t>{1, 2, 3, 4, 5, 6, 7, 8, 9}));
  EXPECT_EQ(numbersAfter(5), (std::vector<std::uint64_t>{6, 7, 8, 9}));
  EXPECT_EQ(numbersAfter(9), (std::vector<std::uint64_t>{}));
}

TEST_F(TrailFile, TurnsOverWithTheMonthAlsoAfterAStart) {
  write(2, kMonthly, kMarch);
  EXPECT_TRUE(closedParts(file_).empty());
  write(2, kMonthly, kApril);
  ASSERT_EQ(closedParts(file_).size(), 1U);
  EXPECT_EQ(linesOf(*readFile(closed(1))).size(), 2U);
  EXPECT_EQ(linesOf(*readFile(file_)).size(), 2U);
  write(1, {1ULL << 40U, false}, "2026-05-01T00:00:00.000Z");
  EXPECT_EQ(closedParts(file_).size(), 1U) << "not where it is not asked for";
  EXPECT_TRUE(check().issues.empty());
}

TEST_F(TrailFile, AStartAmidATurnGoesOn) {
  threeFiles();
  std::filesystem::rename(file_, closed(7));  // killed before the next file was made
  EXPECT_TRUE(mentions(check().issues, "audit.log", "newest file"));
  write(1, kNever);
  EXPECT_EQ(check().lines, 10U);
  EXPECT_TRUE(check().issues.empty());
  std::filesystem::rename(file_, closed(10));
  std::ofstream(file_) << "{\"n\":11,\"at";  // a power cut in its first line
  write(1, kNever);
  EXPECT_EQ(check().lines, 11U);
  EXPECT_TRUE(check().issues.empty());
}

TEST_F(TrailFile, AMissingOrShortenedFileShows) {
  threeFiles();
  const std::string middle = *readFile(closed(4));
  std::filesystem::remove(closed(4));
  EXPECT_TRUE(mentions(check().issues, "audit.log line 1", "Lines 4 to 6 are missing"));
  EXPECT_EQ(check().issues.size(), 1U) << "and nothing else is said";
  const std::vector<std::string> lines = linesOf(middle);
  std::ofstream(closed(4)) << lines[0] << lines[1];
  EXPECT_TRUE(mentions(check().issues, "audit.log line 1", "Lines 6 to 6 are missing"));
  std::ofstream(closed(4), std::ios::trunc) << lines[1] << lines[2];
  EXPECT_TRUE(mentions(check().issues, "audit-000000000004.log line 1", "Lines 4 to 4"));
  std::ofstream(closed(4), std::ios::trunc);
  EXPECT_TRUE(mentions(check().issues, "audit.log line 1", "Lines 4 to 6 are missing"));
  std::ofstream(closed(4), std::ios::trunc) << middle;
  EXPECT_TRUE(check().issues.empty());
}

TEST_F(TrailFile, AFileOfAnotherTrailDoesNotFit) {
  threeFiles();
  const std::filesystem::path own = closed(4);
  const std::string kept = *readFile(own);
  std::filesystem::path other = folder_ / "other.log";
  {
    Result<Trail> trail = Trail::open(other, testHash);
    ASSERT_TRUE(trail);
    for (int i = 0; i < 6; ++i) {
      ASSERT_TRUE(trail->turn(i == 3 ? kAtOnce : kNever, kMarch).empty());
      ASSERT_TRUE(trail->note(access("GET /outbox", 200)).empty());
    }
  }
  std::filesystem::rename(other, own);
  const Issues issues = check().issues;
  EXPECT_TRUE(mentions(issues, "audit-000000000004.log line 1", "does not go on"));
  EXPECT_TRUE(mentions(issues, "audit.log line 1", "does not go on"));
}

TEST_F(TrailFile, FilesThatWereMovedAwayAreSaid) {
  threeFiles();
  std::filesystem::remove(closed(1));
  EXPECT_TRUE(mentions(check().issues, "", "Lines 1 to 3 are not here"));
  EXPECT_TRUE(check(4).issues.empty());
  EXPECT_FALSE(check(3).issues.empty()) << "more is missing than was said";
  EXPECT_EQ(check(4).first, 4U);
  EXPECT_EQ(check(4).lines, 9U);
  std::string text = *readFile(closed(4));
  text.replace(text.find("201"), 3, "200");
  std::ofstream(closed(4), std::ios::trunc) << text;
  EXPECT_FALSE(check(4).issues.empty()) << "the first line there is checked, too";
}

TEST_F(TrailFile, RemovesOldFilesOnlyAndSaysSo) {
  write(2, kMonthly, kMarch);
  write(2, kMonthly, kApril);
  write(2, kMonthly, "2026-05-01T00:00:00.000Z");
  {
    Result<Trail> trail = Trail::open(file_, testHash);
    ASSERT_TRUE(trail);
    EXPECT_TRUE(trail->removeOlder("2026-03-01T00:00:00.000Z", kApril).empty());
    EXPECT_EQ(closedParts(file_).size(), 2U);
    EXPECT_TRUE(trail->removeOlder("2026-04-01T00:00:00.000Z", kApril).empty());
    ASSERT_EQ(closedParts(file_).size(), 1U);
    EXPECT_EQ(closedParts(file_).front().first, 3U);
    EXPECT_EQ(trail->lines(), 7U) << "the removal is a line";
  }
  const TrailReport report = check();
  EXPECT_TRUE(report.issues.empty()) << report.issues.front().text;
  EXPECT_EQ(report.first, 3U);
  std::filesystem::remove(closed(3));
  EXPECT_FALSE(check().issues.empty()) << "of this one nothing was noted";
}

TEST_F(TrailFile, NeverTurnsOverOntoAFileThatIsThere) {
  write(2, kNever);
  std::ofstream(closed(1)) << "kept by somebody\n";
  Result<Trail> trail = Trail::open(file_, testHash);
  ASSERT_TRUE(trail);
  const Issues issues = trail->turn(kAtOnce, kMarch);
  ASSERT_EQ(issues.size(), 1U);
  EXPECT_EQ(issues.front().type, IssueType::NoStore);
  EXPECT_TRUE(trail->note(access("GET /metrics", 200)).empty()) << "it goes on where it is";
  EXPECT_EQ(*readFile(closed(1)), "kept by somebody\n");
  EXPECT_EQ(linesOf(*readFile(file_)).size(), 3U);
}

TEST_F(TrailFile, AFullDiskIsToldAndTheTrailStaysSound) {
  write(2, kNever);
  const auto size = std::filesystem::file_size(file_);
  Result<Trail> trail = Trail::open(file_, testHash);
  ASSERT_TRUE(trail);
  ::signal(SIGXFSZ, SIG_IGN);
  rlimit before{};
  ASSERT_EQ(::getrlimit(RLIMIT_FSIZE, &before), 0);
  rlimit small = before;
  small.rlim_cur = size + 20;
  ASSERT_EQ(::setrlimit(RLIMIT_FSIZE, &small), 0);
  const Issues issues = trail->note(access("GET /metrics", 200));
  ASSERT_EQ(::setrlimit(RLIMIT_FSIZE, &before), 0);
  ASSERT_EQ(issues.size(), 1U);
  EXPECT_EQ(issues.front().type, IssueType::NoStore);
  EXPECT_EQ(std::filesystem::file_size(file_), size) << "nothing of the line is left";
  EXPECT_TRUE(trail->note(access("GET /metrics", 200)).empty()) << "there is room again";
  EXPECT_EQ(check().lines, 3U);
  EXPECT_FALSE(check().torn);
  EXPECT_TRUE(check().issues.empty());
  write(1, kNever);
  EXPECT_EQ(check().lines, 4U);
}

TEST_F(TrailFile, AStartReadsTheEndOfALongFileOnly) {
  write(1, kNever);
  {
    // Not one line of the middle is sound: nobody may look at them at the start.
    std::ofstream out(file_, std::ios::app);
    for (int i = 0; i < 4'000; ++i) out << "nothing of ours, and long enough to matter\n";
  }
  const std::string chain(32, '0');
  const std::string last = trailBody(access("GET /metrics", 200), 5'001, "");
  std::ofstream(file_, std::ios::app)
      << trailLine(trailBody(access("GET /metrics", 200), 5'000, ""), chain)
      << trailLine(last, trailChain(testHash, chain, last));
  const Result<Trail> trail = Trail::open(file_, testHash);
  ASSERT_TRUE(trail) << trail.issues().front().text;
  EXPECT_EQ(trail->lines(), 5'001U);
  EXPECT_FALSE(check().issues.empty()) << "the check looks at all of it";
}

}  // namespace
}  // namespace footbridge::serve
