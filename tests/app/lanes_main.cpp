// Readings to bundles, three at a time: what ThreadSanitizer looks at, without the rest of the
// program, which takes it long to build.
//
//   footbridge_lanes FILE...    bundles to standard output, one a line

#include <iostream>

#include "app/commands.hpp"

int main(int argc, char** argv) {
  const footbridge::Result<footbridge::Tables> tables = footbridge::embeddedTables();
  if (!tables) return footbridge::app::kOwnFailure;
  footbridge::app::ConvertOptions options;
  options.input.inputs.assign(argv + 1, argv + argc);
  options.input.jobs = 3;
  options.bundle.version = FOOTBRIDGE_VERSION;
  options.quiet = true;
  // After all visits of the examples, so that none lies in the future.
  const footbridge::Instant now = *footbridge::parseInstant("2027-01-01T00:00:00Z");
  footbridge::app::World world{std::cin, std::cout, std::cerr, now, *tables};
  return footbridge::app::convert(options, world);
}
