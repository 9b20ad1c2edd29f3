// Any bytes as resources of FHIR, read by a source map: every assessment in them is either read or
// refused with a reason, in the terms of the bundle, and what is kept of it can be read again.

#include <cstdint>
#include <cstdlib>
#include <string>

#include "app/pipeline.hpp"
#include "fhir/reader.hpp"

namespace {

constexpr std::string_view kMap = R"(format = "footbridge-source-map-1"
base = "https://clinic.example"
[file]
zone = "Europe/London"
identify = "patient-and-time"
[defaults]
organization = { name = "Clinic" }
performer = { name = "B. Nurse" }
[fhir]
revisions = "by-time"
[words]
"ND" = { absent = "not-performed" }
[reading.items]
"SYS at ARM-R" = "arms.right.systolic"
"TOE" = "legs.{side}.toe.pressure"
"SIG" = { to = "legs.{side}.doppler.dorsalisPedis", words = { "W3" = "triphasic" } }
"STEPS" = "ignore"
[reading.sides]
"GT-R" = "right"
)";

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) {
  static const footbridge::Tables kTables = *footbridge::embeddedTables();
  static const footbridge::csv::SourceMap kRead = *footbridge::csv::loadSourceMap(kMap, kTables);
  static const footbridge::fhir::Names kNames(kTables, &kRead);
  static const footbridge::Instant kNow = *footbridge::parseInstant("2026-11-25T12:00:00+00:00");
  static const footbridge::app::Pipeline kPipeline(kTables, kNow);
  const std::string input(bytes, bytes + size);
  const bool whole = static_cast<bool>(footbridge::json::read(input));
  const auto texts = footbridge::fhir::textsOf({"x", input, {}}, kNames);
  if (texts.empty()) std::abort();
  for (const footbridge::intake::Text& text : texts) {
    footbridge::app::Outcome outcome = kPipeline.run(text);
    footbridge::intake::relocate(outcome.issues, *text.original, kTables);
    if (outcome.refused() && outcome.issues.empty()) std::abort();
    if (whole && !footbridge::json::read(text.original->rows)) std::abort();
  }
  return 0;
}
