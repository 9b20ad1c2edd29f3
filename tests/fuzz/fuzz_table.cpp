// Any bytes as a table, in both layouts, and as a source map: everything is answered, and every row
// comes back whole, whatever became of it.

#include <cstdint>
#include <cstdlib>
#include <sstream>
#include <string>

#include "app/pipeline.hpp"
#include "csv/draft.hpp"
#include "csv/reader.hpp"

namespace {

constexpr std::string_view kVisits = R"(format = "footbridge-source-map-1"
base = "https://clinic.example"
[file]
date = "dd/mm/yyyy"
zone = "Europe/London"
[defaults]
status = "final"
organization = { name = "Clinic" }
performer = { name = "B. Nurse" }
[columns]
"Visit" = "identifier"
"No" = "patient.identifiers"
"Date" = "measuredAt.date"
"Time" = "measuredAt.time"
"R DP" = "legs.right.ankle.dorsalisPedis"
"R wave" = "legs.right.doppler.dorsalisPedis"
)";

constexpr std::string_view kReadings = R"(format = "footbridge-source-map-1"
base = "https://clinic.example"
[file]
rows = "reading"
date = "dd/mm/yyyy"
zone = "Europe/London"
[defaults]
status = "final"
organization = { name = "Clinic" }
performer = { name = "B. Nurse" }
[columns]
"Visit" = "identifier"
"No" = "patient.identifiers"
"Date" = "measuredAt"
"Item" = "reading.item"
"Side" = "reading.side"
"Value" = "reading.value"
[reading.items]
"DP" = "legs.{side}.ankle.dorsalisPedis"
)";

/// Runs the table through a map; stops the program if a row is lost.
void run(const std::string& table, const footbridge::csv::SourceMap& map,
         const footbridge::Tables& tables) {
  static const footbridge::app::Pipeline kPipeline(
      tables, *footbridge::parseInstant("2026-11-25T12:00:00+00:00"));
  std::istringstream in(table);
  footbridge::csv::Reader reader(in, "fuzz", map, tables);
  std::string rows;
  bool whole = false;
  while (const auto text = reader.next()) {
    footbridge::app::Outcome outcome = kPipeline.run(*text);
    if (!text->original) continue;
    footbridge::intake::relocate(outcome.issues, *text->original, tables);
    whole = true;
    rows += text->original->rows;
  }
  // What is not there of the table are its header and blank rows.
  if (whole && rows.size() > table.size() + 1) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) {
  static const footbridge::Tables kTables = *footbridge::embeddedTables();
  static const footbridge::csv::SourceMap kByVisit =
      *footbridge::csv::loadSourceMap(kVisits, kTables);
  static const footbridge::csv::SourceMap kByReading =
      *footbridge::csv::loadSourceMap(kReadings, kTables);
  const std::string input(bytes, bytes + size);
  run(input, kByVisit, kTables);
  run(input, kByReading, kTables);
  const auto map = footbridge::csv::loadSourceMap(input, kTables);
  if (!map && map.issues().empty()) std::abort();
  std::istringstream in(input);
  const auto draft = footbridge::csv::draftMap(in, "fuzz", kTables);
  if (draft && !footbridge::csv::loadSourceMap(*draft, kTables)) {
    // A draft may lack what the table lacks, but it is TOML that the loader understands.
    for (const auto& issue : footbridge::csv::loadSourceMap(*draft, kTables).issues()) {
      if (issue.rule != "csv-map-needs" && issue.rule != "csv-map-twice") std::abort();
    }
  }
  return 0;
}
