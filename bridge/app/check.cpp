#include <ostream>

#include "app/commands.hpp"
#include "app/inputs.hpp"
#include "app/report.hpp"

namespace footbridge::app {

int check(const CheckOptions& options, World& world) {
  const Tally tally = forEachOutcome(options.input, world, [&](const Done& done) {
    const Outcome& outcome = done.outcome;
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

}  // namespace footbridge::app
