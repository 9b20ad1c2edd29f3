#include <algorithm>
#include <memory>
#include <ostream>
#include <vector>

#include "app/commands.hpp"
#include "app/inputs.hpp"
#include "app/report.hpp"
#include "app/set_aside.hpp"
#include "app/stems.hpp"
#include "core/file.hpp"
#include "package/bundle.hpp"

namespace footbridge::app {
namespace {

/// Where bundles and what was set aside go.
class Sink {
 public:
  Sink(const ConvertOptions& options, World& world)
      : options_(options),
        world_(world),
        setAside_(options.out / "set-aside", formOf(options.input)) {}

  void take(Done& done) {
    const Outcome& outcome = done.outcome;
    if (!options_.quiet || outcome.refused()) printOutcome(world_.err, outcome);
    if (outcome.refused()) {
      if (!options_.out.empty()) note(setAside_.take(done.text, outcome));
      return;
    }
    done.made += '\n';
    if (options_.out.empty()) {
      world_.out << done.made;
    } else {
      store(options_.out /
                (bundleStem(outcome.assessment.identifier, outcome.assessment.revision) + ".json"),
            done.made);
    }
  }

  /// True if all could be written.
  bool finish() {
    note(setAside_.finish());
    return !failed_;
  }

 private:
  void note(const Issues& issues) {
    for (const Issue& issue : issues) printIssue(world_.err, issue);
    failed_ = failed_ || !issues.empty();
  }

  void store(const std::filesystem::path& path, std::string_view bytes) {
    std::error_code ignored;  // if it failed, so does the write, which says why
    std::filesystem::create_directories(path.parent_path(), ignored);
    note(writeFileAtomically(path, bytes));
  }

  const ConvertOptions& options_;
  World& world_;
  SetAside setAside_;
  bool failed_ = false;
};

}  // namespace

int convert(const ConvertOptions& options, World& world) {
  Sink sink(options, world);
  const Tally tally = forEachOutcome(
      options.input, world, [&sink](Done& done) { sink.take(done); }, &options.bundle);
  const bool written = sink.finish();
  world.out.flush();
  world.err << tally.accepted << " converted, " << tally.setAside << " set aside\n";
  if (!written) return kOwnFailure;
  return tally.exitCode();
}

}  // namespace footbridge::app
