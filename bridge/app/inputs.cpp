#include "app/inputs.hpp"

#include <cerrno>
#include <fstream>
#include <iostream>
#include <system_error>
#include <utility>

#include "app/repeats.hpp"
#include "app/report.hpp"
#include "csv/reader.hpp"

namespace footbridge::app {
namespace {

using Use = std::function<void(const intake::Text&, const Outcome&)>;

bool isLines(const InputOptions& options, const std::string& name) {
  return options.from == "ndjson" || name.ends_with(".ndjson") || name.ends_with(".jsonl");
}

void walk(std::istream& in, const std::string& name, intake::Layout layout,
          const Pipeline& pipeline, Repeats& repeats, const Use& use, Tally& tally) {
  intake::Texts texts(in, name, layout);
  while (const std::optional<intake::Text> text = texts.next()) {
    Outcome outcome = pipeline.run(*text);
    repeats.note(*text, outcome);
    ++(outcome.refused() ? tally.setAside : tally.accepted);
    use(*text, outcome);
  }
}

/// The same for a clinic's table: places are those of the table.
void walkTable(std::istream& in, const std::string& name, const csv::SourceMap& map, World& world,
               const Pipeline& pipeline, Repeats& repeats, const Use& use, Tally& tally) {
  csv::Reader reader(in, name, map, world.tables);
  bool first = true;
  while (const std::optional<intake::Text> text = reader.next()) {
    if (std::exchange(first, false)) {
      for (const Issue& notice : reader.notices()) printIssue(world.err, notice);
    }
    Outcome outcome = pipeline.run(*text);
    repeats.note(*text, outcome);
    if (text->original) intake::relocate(outcome.issues, *text->original, world.tables);
    ++(outcome.refused() ? tally.setAside : tally.accepted);
    use(*text, outcome);
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

}  // namespace

Tally forEachOutcome(const InputOptions& options, World& world, const Use& use) {
  const Pipeline pipeline(world.tables, world.now);
  Repeats repeats(world.tables);
  Tally tally;
  const std::vector<std::string> standard{"-"};
  const auto walkOne = [&](std::istream& in, const std::string& name) {
    if (options.sourceMap) {
      return walkTable(in, name, *options.sourceMap, world, pipeline, repeats, use, tally);
    }
    const bool lines = isLines(options, name);
    walk(in, name, lines ? intake::Layout::Lines : intake::Layout::Detect, pipeline, repeats, use,
         tally);
  };
  for (const std::string& name : options.inputs.empty() ? standard : options.inputs) {
    if (name == "-") {
      walkOne(world.in, "standard input");
      continue;
    }
    std::error_code ignored;
    std::ifstream file;
    errno = EISDIR;
    if (!std::filesystem::is_directory(name, ignored)) file.open(name, std::ios::binary);
    if (file.is_open()) {
      walkOne(file, name);
    } else {
      ++tally.setAside;
      use({name, {}, {}}, unopened(name));
    }
  }
  return tally;
}

}  // namespace footbridge::app
