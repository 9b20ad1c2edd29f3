// Any bytes as resources of FHIR: every assessment in them is either read or refused with a reason,
// in the terms of the resource, and nothing is lost without a word.

#include <cstdint>
#include <cstdlib>
#include <string>

#include "app/pipeline.hpp"
#include "fhir/reader.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) {
  static const footbridge::Tables kTables = *footbridge::embeddedTables();
  static const footbridge::fhir::Names kNames(kTables);
  static const footbridge::Instant kNow = *footbridge::parseInstant("2026-11-25T12:00:00+00:00");
  static const footbridge::app::Pipeline kPipeline(kTables, kNow);
  const auto texts = footbridge::fhir::textsOf({"x", std::string(bytes, bytes + size), {}}, kNames);
  if (texts.empty()) std::abort();
  for (const footbridge::intake::Text& text : texts) {
    footbridge::app::Outcome outcome = kPipeline.run(text);
    footbridge::intake::relocate(outcome.issues, *text.original, kTables);
    if (outcome.refused() && outcome.issues.empty()) std::abort();
  }
  return 0;
}
