// Pressures and published indices of the US survey NHANES 2001-2004 (NCHS, public use): one arm,
// posterior tibial only, means of up to two readings, so exact in half millimetres.

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>

#include "findings_cases.hpp"

namespace footbridge::findings_test {
namespace {

constexpr std::size_t kStrictRows = 8729;

void checkIndex(const std::string& arm, const std::string& ankle, const std::string& published) {
  const std::string readings = "R:arm.systolic=" + arm + " R:ankle.posterior-tibial=" + ankle;
  const std::vector<Index> indices = findingsOf(readings).indices;
  const Decimal wanted = *Decimal::parse(published);
  ASSERT_TRUE(indices.front().hundredths.has_value()) << readings;
  EXPECT_EQ(order(Decimal{*indices.front().hundredths, 2}, wanted), std::strong_ordering::equal)
      << readings << " gives " << hundredthsText(*indices.front().hundredths) << ", published "
      << published;
}

TEST(Survey, TiesAndEdgesComeOutAsPublished) {
  for (const auto& row : rowsOf("nhanes.tsv", 5)) checkIndex(row[1], row[2], row[3]);
}

std::filesystem::path sharedFile() {
  const char* shared = std::getenv("FOOTBRIDGE_SHARED");
  if (shared == nullptr) return {};
  return std::filesystem::path{shared} / "data" / "nhanes_abpi_vectors.csv";
}

TEST(Survey, EveryStrictRowComesOutAsPublished) {
  const std::filesystem::path path = sharedFile();
  if (path.empty() || !std::filesystem::exists(path)) {
    GTEST_SKIP() << "the survey table is not here: set FOOTBRIDGE_SHARED to the folder above data";
  }
  std::ifstream in{path};
  std::size_t rows = 0;
  for (std::string line; std::getline(in, line);) {
    const std::vector<std::string> cells = split(line, ',');
    if (cells[0] != "2001-2002" && cells[0] != "2003-2004") continue;
    checkIndex(cells[3], cells[6], cells[7]);
    ++rows;
  }
  std::cout << "survey rows: " << rows << "\n";
  EXPECT_EQ(rows, kStrictRows);
}

}  // namespace
}  // namespace footbridge::findings_test
