// Answers the messages of standard input as a listener would, in frames, so that another program
// can read the acknowledgements: footbridge_acknowledge MAP <messages >acknowledgements

#include <iostream>
#include <iterator>

#include "core/file.hpp"
#include "hl7/acknowledge.hpp"
#include "hl7/mllp.hpp"

using footbridge::hl7::Commit;
using footbridge::hl7::Reading;
using footbridge::hl7::Settings;
using footbridge::hl7::Stored;
using footbridge::hl7::Verdict;

int main(int count, char** arguments) {
  const footbridge::Tables tables = *footbridge::embeddedTables();
  if (count != 2) return 2;
  const auto toml = footbridge::readFile(arguments[1]);
  if (!toml) return 2;
  const auto map = footbridge::csv::loadSourceMap(*toml, tables);
  if (!map) return 2;
  const Settings settings = footbridge::hl7::settingsOf(&*map, tables);
  const footbridge::Instant now = *footbridge::parseInstant("2026-10-05T11:00:00+01:00");
  // Stands for what stores: everything is taken, and the reader's own remarks are its verdict.
  const Commit commit = [](const Reading& reading) {
    Verdict verdict{Stored::Now, {}};
    for (const footbridge::intake::Text& text : reading.texts) {
      append(verdict.issues, footbridge::Issues(text.issues));
    }
    return verdict;
  };
  const std::string bytes{std::istreambuf_iterator<char>(std::cin), {}};
  for (const std::string& message : footbridge::hl7::messagesIn(bytes)) {
    for (const std::string& reply :
         footbridge::hl7::answer(message, settings, tables, now, commit).messages) {
      std::cout << footbridge::hl7::framed(reply);
    }
  }
}
