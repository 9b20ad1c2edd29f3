#include "app/inputs.hpp"

#include <cerrno>
#include <fstream>
#include <iostream>
#include <memory>
#include <system_error>
#include <utility>

#include "app/repeats.hpp"
#include "app/report.hpp"
#include "csv/reader.hpp"
#include "fhir/reader.hpp"
#include "hl7/reader.hpp"
#include "package/bundle.hpp"

namespace footbridge::app {
namespace {

bool isLines(const InputOptions& options, const std::string& name) {
  return options.from == "ndjson" || name.ends_with(".ndjson") || name.ends_with(".jsonl");
}

void walk(std::istream& in, const std::string& name, intake::Layout layout, Lanes& lanes) {
  intake::Texts texts(in, name, layout);
  while (std::optional<intake::Text> text = texts.next()) lanes.add(*std::move(text));
}

/// The same for a clinic's table.
void walkTable(std::istream& in, const std::string& name, const csv::SourceMap& map, World& world,
               Lanes& lanes) {
  csv::Reader reader(in, name, map, world.tables);
  bool first = true;
  while (std::optional<intake::Text> text = reader.next()) {
    if (std::exchange(first, false)) {
      for (const Issue& notice : reader.notices()) printIssue(world.err, notice);
    }
    lanes.add(*std::move(text));
  }
}

/// An input that cannot be opened.
Outcome unopened(const std::string& name) {
  Outcome out;
  out.name = name;
  out.issues.push_back({Severity::Fatal, IssueType::NotFound, "file", "",
                        "The file cannot be read: " + std::generic_category().message(errno) + ".",
                        "Check that the path is right and that this user may read it."});
  return out;
}

void walkFile(const std::string& name, const std::function<void(std::istream&)>& walkOne,
              Lanes& lanes) {
  std::error_code ignored;
  std::ifstream file;
  errno = EISDIR;
  if (!std::filesystem::is_directory(name, ignored)) file.open(name, std::ios::binary);
  if (file.is_open()) return walkOne(file);
  lanes.addReady({{name, {}, {}}, unopened(name), {}});
}

/// What a thread does with a text; `writer`, its own, may be nullptr. Both have to outlive it.
Worker workerOf(const Pipeline& pipeline, package::BundleWriter* writer) {
  return [&pipeline, writer](Done& done) {
    done.outcome = pipeline.run(done.text);
    const Outcome& out = done.outcome;
    if (writer == nullptr || out.refused()) return;
    done.entries = writer->append(done.made, out.assessment, out.findings, out.issues);
  };
}

}  // namespace

Tally forEachOutcome(const InputOptions& options, World& world,
                     const std::function<void(Done&)>& use, const package::BundleOptions* bundle) {
  std::optional<Earlier> earlier;
  if (!options.previous.empty()) earlier.emplace(world.tables);
  for (const std::string& path : options.previous) {
    for (const Issue& remark : earlier->read(path)) printIssue(world.err, remark);
  }
  const Pipeline pipeline(world.tables, world.now, earlier ? &*earlier : nullptr);
  Repeats repeats(world.tables);
  Tally tally;
  std::vector<std::unique_ptr<package::BundleWriter>> writers;
  const auto newWorker = [&]() -> Worker {
    if (bundle == nullptr) return workerOf(pipeline, nullptr);
    writers.push_back(std::make_unique<package::BundleWriter>(world.tables, *bundle));
    return workerOf(pipeline, writers.back().get());
  };
  // Places in a table are those of the table; two of one identity are known only in order.
  const auto inOrder = [&](Done& done) {
    repeats.note(done.text, done.outcome);
    if (done.text.original) {
      intake::relocate(done.outcome.issues, *done.text.original, world.tables);
    }
    ++(done.outcome.refused() ? tally.setAside : tally.accepted);
    use(done);
  };
  Lanes lanes(options.jobs, newWorker, inOrder);
  const hl7::Settings messages =
      hl7::settingsOf(options.sourceMap ? &*options.sourceMap : nullptr, world.tables);
  std::optional<fhir::Names> resources;
  if (formOf(options) == InputForm::Resources) {
    resources.emplace(world.tables, options.sourceMap ? &*options.sourceMap : nullptr);
  }
  const auto add = [&lanes](intake::Text text) { lanes.add(std::move(text)); };
  const std::vector<std::string> standard{"-"};
  for (const std::string& name : options.inputs.empty() ? standard : options.inputs) {
    const auto walkOne = [&](std::istream& in) {
      const std::string spoken = name == "-" ? "standard input" : name;
      if (options.from == "hl7v2") {  // held whole
        const std::string bytes{std::istreambuf_iterator<char>(in), {}};
        return hl7::forEachText(bytes, spoken, messages, world.tables, add);
      }
      const auto layout = isLines(options, name) ? intake::Layout::Lines : intake::Layout::Detect;
      if (resources) {
        intake::Texts texts(in, spoken, layout);
        return fhir::forEachText(texts, *resources, add);
      }
      if (options.sourceMap) return walkTable(in, spoken, *options.sourceMap, world, lanes);
      walk(in, spoken, layout, lanes);
    };
    if (name == "-") {
      walkOne(world.in);
    } else {
      walkFile(name, walkOne, lanes);
    }
  }
  lanes.finish();
  return tally;
}

}  // namespace footbridge::app
