// Any bytes through the whole way: an assessment that is accepted gives a bundle that is JSON, one
// that is not gives a reason.

#include <cstdint>
#include <cstdlib>
#include <string>

#include "app/pipeline.hpp"
#include "json/value.hpp"
#include "package/bundle.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) {
  static const footbridge::Tables kTables = *footbridge::embeddedTables();
  static const footbridge::app::Pipeline kPipeline(
      kTables, *footbridge::parseInstant("2026-11-25T12:00:00+00:00"));
  static footbridge::package::BundleWriter writer(kTables, {});
  const footbridge::app::Outcome outcome =
      kPipeline.run({"fuzz", std::string(bytes, bytes + size), {}});
  if (outcome.refused()) return 0;
  std::string out;
  writer.append(out, outcome.assessment, outcome.findings, outcome.issues);
  if (!footbridge::json::read(out)) std::abort();
  return 0;
}
