// Any bytes as messages, bare and in frames: frames do not depend on how the bytes arrive, every
// message is answered once, and every assessment is either read or refused with a reason.

#include <cstdint>
#include <cstdlib>
#include <string>

#include "app/pipeline.hpp"
#include "hl7/acknowledge.hpp"
#include "hl7/mllp.hpp"

namespace {

using footbridge::hl7::Deframer;

constexpr std::string_view kMap = R"(format = "footbridge-source-map-1"
base = "https://clinic.example"
[file]
zone = "Europe/London"
[defaults]
organization = { name = "Clinic" }
performer = { name = "B. Nurse" }
[hl7]
charset = "8859/1"
)";

/// The frames of the input in two ways that must agree.
void deframe(const std::string& input) {
  Deframer whole;
  Deframer byByte;
  const std::vector<std::string> messages = whole.take(input);
  std::vector<std::string> others;
  for (const char c : input) {
    for (std::string& message : byByte.take({&c, 1})) others.push_back(std::move(message));
  }
  if (messages != others || whole.strayBytes() != byByte.strayBytes()) std::abort();
}

void answerOne(const std::string& message, const footbridge::Tables& tables,
               const footbridge::hl7::Settings& settings) {
  static const footbridge::Instant kNow = *footbridge::parseInstant("2026-11-25T12:00:00+00:00");
  static const footbridge::app::Pipeline kPipeline(tables, kNow);
  int stored = 0;
  const auto commit = [&](const footbridge::hl7::Reading& reading) {
    ++stored;
    footbridge::hl7::Verdict verdict{footbridge::hl7::Stored::Now, {}};
    if (reading.texts.empty()) std::abort();
    for (const footbridge::intake::Text& text : reading.texts) {
      footbridge::app::Outcome outcome = kPipeline.run(text);
      footbridge::intake::relocate(outcome.issues, *text.original, tables);
      if (outcome.refused() && outcome.issues.empty()) std::abort();
      append(verdict.issues, std::move(outcome.issues));
    }
    return verdict;
  };
  const auto reply = footbridge::hl7::answer(message, settings, tables, kNow, commit);
  if (stored > 1 || reply.code.size() != 2) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) {
  static const footbridge::Tables kTables = *footbridge::embeddedTables();
  static const footbridge::csv::SourceMap kSource = *footbridge::csv::loadSourceMap(kMap, kTables);
  static const footbridge::hl7::Settings kSettings = footbridge::hl7::settingsOf(&kSource, kTables);
  const std::string input(bytes, bytes + size);
  deframe(input);
  for (const std::string& message : footbridge::hl7::messagesIn(input)) {
    answerOne(message, kTables, kSettings);
  }
  return 0;
}
