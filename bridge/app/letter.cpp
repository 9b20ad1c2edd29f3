#include "package/letter.hpp"

#include <ostream>

#include "app/commands.hpp"
#include "app/inputs.hpp"
#include "app/report.hpp"

namespace footbridge::app {

int letter(const LetterOptions& options, World& world) {
  world.out << package::lettersBegin();
  const Tally tally = forEachOutcome(options.input, world, [&](const Done& done) {
    const Outcome& o = done.outcome;
    if (o.refused()) return printOutcome(world.err, o);
    world.out << package::letterOf(o.assessment, o.findings, o.issues, world.tables,
                                   options.letter);
  });
  world.out << package::lettersEnd();
  world.out.flush();
  world.err << tally.accepted << " letters, " << tally.setAside << " set aside\n";
  return world.out ? tally.exitCode() : kOwnFailure;
}

}  // namespace footbridge::app
