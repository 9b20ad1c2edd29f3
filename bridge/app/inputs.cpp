#include "app/inputs.hpp"

#include <cerrno>
#include <fstream>
#include <iostream>
#include <system_error>

#include "app/repeats.hpp"

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
  for (const std::string& name : options.inputs.empty() ? standard : options.inputs) {
    const intake::Layout layout =
        isLines(options, name) ? intake::Layout::Lines : intake::Layout::Detect;
    if (name == "-") {
      walk(world.in, "standard input", layout, pipeline, repeats, use, tally);
      continue;
    }
    std::error_code ignored;
    std::ifstream file;
    errno = EISDIR;
    if (!std::filesystem::is_directory(name, ignored)) file.open(name, std::ios::binary);
    if (file.is_open()) {
      walk(file, name, layout, pipeline, repeats, use, tally);
    } else {
      ++tally.setAside;
      use({name, {}, {}}, unopened(name));
    }
  }
  return tally;
}

}  // namespace footbridge::app
