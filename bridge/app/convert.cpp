#include <memory>
#include <ostream>
#include <sstream>
#include <vector>

#include "app/commands.hpp"
#include "app/inputs.hpp"
#include "app/report.hpp"
#include "app/set_aside.hpp"
#include "core/digest.hpp"
#include "core/file.hpp"
#include "package/bundle.hpp"

namespace footbridge::app {
namespace {

std::string bundleStem(const Assessment& assessment) {
  const std::string name = assessment.identifier.value + ".r" + std::to_string(assessment.revision);
  return fileStem(name, assessment.identifier.system + "|" + name);
}

/// Where bundles and what was set aside go.
class Sink {
 public:
  Sink(const ConvertOptions& options, World& world)
      : options_(options), world_(world), rows_(options.out / "set-aside") {}

  void take(const Done& done) {
    const Outcome& outcome = done.outcome;
    if (!options_.quiet || outcome.refused()) speak(outcome);
    if (outcome.refused()) return setAside(done.text, outcome);
    if (options_.out.empty()) {
      world_.out << done.made;
    } else {
      store(options_.out / (bundleStem(outcome.assessment) + ".json"), done.made);
    }
  }

  /// True if all could be written.
  bool finish() {
    note(rows_.finish());
    return !failed_;
  }

 private:
  void speak(const Outcome& outcome) {
    printVerdict(world_.err, outcome);
    for (const Issue& issue : outcome.issues) {
      if (issue.severity != Severity::Information) printIssue(world_.err, issue);
    }
  }

  void setAside(const intake::Text& text, const Outcome& outcome) {
    if (options_.out.empty()) return;
    if (text.original) return note(rows_.take(*text.original, outcome));
    if (options_.input.sourceMap) return setAsideTable(outcome);
    const std::string stem =
        fileStem(std::filesystem::path(outcome.name).filename().string(), text.bytes);
    store(options_.out / "set-aside" / (stem + ".json"), text.bytes);
    store(options_.out / "set-aside" / (stem + ".issues.json"),
          operationOutcome(outcome.issues) + "\n");
  }

  /// A table of which no row could be read: it stays where it is, and the reasons are written.
  void setAsideTable(const Outcome& outcome) {
    std::ostringstream reasons;
    printVerdict(reasons, outcome);
    for (const Issue& issue : outcome.issues) printIssue(reasons, issue);
    const std::string stem = fileStem(tableStem(outcome.name), reasons.str());
    store(options_.out / "set-aside" / (stem + ".issues.txt"), reasons.str());
  }

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
  SetAsideRows rows_;
  bool failed_ = false;
};

}  // namespace

int convert(const ConvertOptions& options, World& world) {
  Sink sink(options, world);
  std::vector<std::unique_ptr<package::BundleWriter>> writers;
  const auto newMaker = [&]() -> Maker {
    writers.push_back(std::make_unique<package::BundleWriter>(world.tables, options.bundle));
    return [&writer = *writers.back()](const Outcome& outcome) {
      std::string bytes;
      writer.append(bytes, outcome.assessment, outcome.findings, outcome.issues);
      return bytes += '\n';
    };
  };
  const Tally tally = forEachOutcome(
      options.input, world, [&sink](const Done& done) { sink.take(done); }, newMaker);
  const bool written = sink.finish();
  world.out.flush();
  world.err << tally.accepted << " converted, " << tally.setAside << " set aside\n";
  if (!written || !world.out) return kOwnFailure;
  return tally.exitCode();
}

}  // namespace footbridge::app
