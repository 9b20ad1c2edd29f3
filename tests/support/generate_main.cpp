// Prints generated assessments, one a line: footbridge_generate SEED COUNT.

#include <cstdlib>
#include <iostream>

#include "support/generate.hpp"

int main(int argc, char** argv) {
  if (argc != 3) {
    std::cerr << "usage: footbridge_generate SEED COUNT\n";
    return 2;
  }
  const auto tables = footbridge::embeddedTables();
  if (!tables) return 4;
  const std::uint64_t seed = std::strtoull(argv[1], nullptr, 10);
  const std::uint64_t count = std::strtoull(argv[2], nullptr, 10);
  for (std::uint64_t i = 1; i <= count; ++i) {
    std::cout << footbridge::test::generateAssessment(*tables, seed, i) << '\n';
  }
  return 0;
}
