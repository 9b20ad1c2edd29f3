// Readings to bundles, three at a time: what ThreadSanitizer looks at, without the rest of the
// program, which takes it long to build.
//
//   footbridge_lanes FILE...    bundles to standard output, one a line

#include <fstream>
#include <iostream>
#include <vector>

#include "app/lanes.hpp"
#include "intake/texts.hpp"
#include "package/bundle.hpp"

namespace {

using footbridge::app::Done;
using footbridge::app::Worker;

constexpr std::size_t kWorkers = 3;

}  // namespace

int main(int argc, char** argv) {
  const footbridge::Result<footbridge::Tables> tables = footbridge::embeddedTables();
  if (!tables) return 1;
  footbridge::package::BundleOptions options;
  options.version = FOOTBRIDGE_VERSION;
  // After all visits of the examples, so that none lies in the future.
  const footbridge::Instant now = *footbridge::parseInstant("2027-01-01T00:00:00Z");
  const footbridge::app::Pipeline pipeline(*tables, now);
  std::vector<std::unique_ptr<footbridge::package::BundleWriter>> writers;
  const auto newWorker = [&]() -> Worker {
    writers.push_back(std::make_unique<footbridge::package::BundleWriter>(*tables, options));
    return [&pipeline, &writer = *writers.back()](Done& done) {
      done.outcome = pipeline.run(done.text);
      const footbridge::app::Outcome& out = done.outcome;
      if (!out.refused()) writer.append(done.made, out.assessment, out.findings, out.issues);
    };
  };
  bool good = true;
  footbridge::app::Lanes lanes(kWorkers, newWorker, [&good](Done& done) {
    good = good && !done.outcome.refused();
    std::cout << done.made << '\n';
  });
  for (int i = 1; i < argc; ++i) {
    std::ifstream in(argv[i], std::ios::binary);
    footbridge::intake::Texts texts(in, argv[i], footbridge::intake::Layout::Detect);
    while (auto text = texts.next()) lanes.add(*std::move(text));
  }
  lanes.finish();
  return good ? 0 : 1;
}
