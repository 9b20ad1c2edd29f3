#include "app/recipe.hpp"

#include <array>
#include <map>
#include <mutex>
#include <sstream>
#include <vector>

namespace footbridge::app {
namespace {

/// First word of the first line; the others are moment, rule set, way of referring to the patient,
/// realm, claimed profiles and FHIR release (as their numbers), version and digest of the tables.
/// The text begins on the next line. Never change what was released: count up.
constexpr std::string_view kMark = "footbridge-recipe-1";
constexpr std::array<std::string_view, 3> kReferences{"conditional", "logical", "create"};

struct Recipe {
  std::string moment;
  package::BundleOptions options;
  std::string reference;
  std::string tables;
  std::string kind;  ///< of all options but the version
};

Recipe read(std::string_view line) {
  Recipe out;
  std::string mark;
  std::istringstream words{std::string(line)};
  unsigned claims = 0;
  unsigned edition = 0;
  words >> mark >> out.moment >> out.options.ruleSet >> out.reference >> out.options.realm >>
      claims >> edition >> out.options.version >> out.tables;
  out.options.claims = static_cast<package::Claims>(claims);
  out.options.edition = static_cast<package::Edition>(edition);
  out.kind = out.options.ruleSet + " " + out.reference + " " + out.options.realm + " " +
             std::to_string(claims) + " " + std::to_string(edition);
  for (std::size_t i = 0; i < kReferences.size(); ++i) {
    if (out.reference != kReferences[i]) continue;
    out.options.patientReference = static_cast<package::PatientReference>(i);
  }
  return out;
}

/// What one thread needs; writers by what they were asked for.
struct Kitchen {
  explicit Kitchen(const Tables& tables) : pipeline(tables, Instant{}) {}

  Pipeline pipeline;
  std::map<std::string, std::unique_ptr<package::BundleWriter>> writers;
};

Issue refused(const Issues& issues) {
  std::string text = "The stored assessment is refused by this version of the program";
  for (const Issue& issue : issues) {
    if (issue.severity < Severity::Error) continue;
    text += ": " + issue.text;
    break;
  }
  return {Severity::Error, IssueType::BusinessRule,
          "recipe",        "",
          std::move(text), "Send it again, mended, as a new revision."};
}

}  // namespace

struct Unfolder::State {
  State(const Tables& from, std::string program) : tables(from), version(std::move(program)) {}

  const Tables& tables;
  std::string version;
  std::mutex mutex;
  std::vector<std::unique_ptr<Kitchen>> idle;

  std::unique_ptr<Kitchen> take() {
    {
      const std::scoped_lock lock(mutex);
      if (!idle.empty()) {
        std::unique_ptr<Kitchen> out = std::move(idle.back());
        idle.pop_back();
        return out;
      }
    }
    return std::make_unique<Kitchen>(tables);
  }

  void giveBack(std::unique_ptr<Kitchen> kitchen) {
    const std::scoped_lock lock(mutex);
    idle.push_back(std::move(kitchen));
  }

  Result<std::string> cook(Kitchen& kitchen, const Recipe& recipe, std::string_view text) const {
    const std::optional<Instant> now = parseInstant(recipe.moment);
    const Outcome outcome =
        kitchen.pipeline.run({"", std::string(text), {}}, now.value_or(Instant{}));
    if (outcome.refused()) return refused(outcome.issues);
    auto& writer = kitchen.writers[recipe.kind];
    if (!writer) {
      package::BundleOptions options = recipe.options;
      options.version = version;
      writer = std::make_unique<package::BundleWriter>(tables, std::move(options));
    }
    std::string bundle;
    writer->append(bundle, outcome.assessment, outcome.findings, outcome.issues);
    if (recipe.options.version == version && recipe.tables == tables.digest) return bundle;
    return {std::move(bundle),
            {{Severity::Warning, IssueType::Informational, "recipe", "",
              "it was made by another version of the program, or with other tables.", ""}}};
  }
};

std::string recipeOf(std::string_view bytes, const Instant& now,
                     const package::BundleOptions& options, const Tables& tables) {
  const auto reference = static_cast<std::size_t>(options.patientReference);
  std::string out(kMark);
  const std::string moment = text(now);
  const std::string claims = std::to_string(static_cast<unsigned>(options.claims));
  const std::string edition = std::to_string(static_cast<unsigned>(options.edition));
  for (const std::string_view word :
       {std::string_view(moment), std::string_view(options.ruleSet), kReferences[reference],
        std::string_view(options.realm), std::string_view(claims), std::string_view(edition),
        std::string_view(options.version), std::string_view(tables.digest)}) {
    (out += ' ') += word;
  }
  return (out += '\n') += bytes;
}

Unfolder::Unfolder(const Tables& tables, std::string version)
    : state_(std::make_unique<State>(tables, std::move(version))) {}

Unfolder::~Unfolder() = default;

Result<std::string> Unfolder::unfold(std::string stored) const {
  if (!stored.starts_with(kMark)) return stored;
  const std::string_view line = std::string_view(stored).substr(0, stored.find('\n'));
  std::unique_ptr<Kitchen> kitchen = state_->take();
  Result<std::string> out =
      state_->cook(*kitchen, read(line), std::string_view(stored).substr(line.size() + 1));
  state_->giveBack(std::move(kitchen));
  return out;
}

}  // namespace footbridge::app
