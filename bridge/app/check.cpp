#include <ostream>

#include "app/commands.hpp"
#include "app/inputs.hpp"
#include "app/report.hpp"
#include "package/summary.hpp"

namespace footbridge::app {

int check(const CheckOptions& options, World& world) {
  const Tally tally =
      forEachOutcome(options.input, world, [&](const intake::Text&, const Outcome& outcome) {
        if (options.json) {
          world.out << operationOutcome(outcome.issues) << '\n';
          return;
        }
        printVerdict(world.out, outcome);
        for (const Issue& issue : outcome.issues) printIssue(world.out, issue);
      });
  if (!options.json) {
    world.out << tally.accepted << " accepted, " << tally.setAside << " set aside\n";
  }
  return tally.exitCode();
}

int summary(const SummaryOptions& options, World& world) {
  const Tally tally =
      forEachOutcome(options.input, world, [&](const intake::Text&, const Outcome& outcome) {
        printVerdict(world.out, outcome);
        if (outcome.refused()) return;
        for (const package::SummaryPart& part :
             package::summarise(outcome.assessment, outcome.findings, outcome.issues, world.tables,
                                options.ruleSet)) {
          world.out << "  " << part.title << '\n';
          for (const std::string& line : part.lines) world.out << "    " << line << '\n';
        }
      });
  world.out << "Cautions\n";
  for (const std::string& line : package::cautions()) world.out << "  " << line << '\n';
  return tally.exitCode();
}

}  // namespace footbridge::app
