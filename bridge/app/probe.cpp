#include "deliver/probe.hpp"

#include <algorithm>
#include <ostream>

#include "app/commands.hpp"
#include "app/deployment.hpp"
#include "app/report.hpp"
#include "core/text.hpp"
#include "deliver/folder.hpp"
#include "deliver/scopes.hpp"
#include "deliver/token.hpp"
#include "json/writer.hpp"

namespace footbridge::app {
namespace {

/// The first preset that the statement fits; nullptr for none.
const PresetRow* presetFor(const deliver::Ability& ability, const Tables& tables) {
  const auto lists = [&ability](const std::string& need) { return deliver::lists(ability, need); };
  for (const PresetRow& row : tables.presets) {
    const bool told = !row.needs.empty() || !row.lacks.empty();
    if (told && std::all_of(row.needs.begin(), row.needs.end(), lists) &&
        std::none_of(row.lacks.begin(), row.lacks.end(), lists)) {
      return &row;
    }
  }
  return nullptr;
}

/// How many of the server's profiles resources of ours may claim: ours, or those of a realm.
std::vector<std::pair<std::string, std::size_t>> claimable(const deliver::Ability& ability,
                                                           const Tables& tables) {
  const std::string ours = tables.canonicalBase + "/fhir/StructureDefinition/";
  std::vector<std::pair<std::string, std::size_t>> out;
  const auto count = [&](const std::string& name, const auto& claimed) {
    const auto found = std::count_if(ability.profiles.begin(), ability.profiles.end(), claimed);
    if (found > 0) out.emplace_back(name, static_cast<std::size_t>(found));
  };
  count("ours", [&ours](const std::string& each) { return each.starts_with(ours); });
  for (const Realm& realm : tables.realms) {
    count(realm.id, [&realm](const std::string& each) {
      return std::any_of(realm.profiles.begin(), realm.profiles.end(),
                         [&each](const RealmProfile& profile) { return profile.url == each; });
    });
  }
  return out;
}

void printProfiles(std::ostream& out, const deliver::Ability& ability, const Tables& tables) {
  const auto found = claimable(ability, tables);
  if (found.empty()) {
    out << "profiles: the statement lists none that resources could claim: leave profiles out\n";
  }
  for (const auto& [name, count] : found) {
    out << "profiles: the statement lists " << count << " of ";
    if (name == "ours") {
      out << "ours: profiles = \"ours\"\n";
    } else {
      out << "realm " << name << ": realm = \"" << name
          << "\" with profiles = \"checked\" or \"all\"\n";
    }
  }
}

void printPresets(std::ostream& out, const config::Destination& to, const PresetRow* fits,
                  const Tables& tables) {
  if (!to.preset.empty()) out << "preset as configured: " << to.preset << '\n';
  out << "preset that fits the statement: " << (fits == nullptr ? "none" : fits->id) << '\n';
  if (fits != nullptr) out << "  " << fits->about << '\n';
  out << "presets that only a trial can tell:\n";
  for (const PresetRow& row : tables.presets) {
    if (row.needs.empty() && row.lacks.empty()) out << "  " << row.id << ": " << row.about << '\n';
  }
}

std::string asJson(const config::Destination& to, const deliver::Ability& ability,
                   const deliver::Choice& choice, const PresetRow* fits, const Tables& tables) {
  json::Writer out;
  out.beginObject().member("destination", to.name).member("base", to.server.base);
  out.member("software", ability.software).member("fhirVersion", ability.fhirVersion);
  out.name("transaction").boolean(ability.transaction).name("batch").boolean(ability.batch);
  out.name("types").beginArray();
  for (const deliver::TypeAbility& each : ability.types) {
    out.beginObject().member("type", each.type);
    out.name("create").boolean(each.create).name("update").boolean(each.update);
    out.name("conditionalCreate").boolean(each.conditionalCreate);
    out.name("conditionalUpdate").boolean(each.conditionalUpdate);
    out.name("updateCreate").boolean(each.updateCreate);
    out.name("searchByIdentifier").boolean(each.byIdentifier).endObject();
  }
  out.endArray().name("usable").boolean(choice.possible);
  if (fits != nullptr) out.member("preset", fits->id);
  out.name("profiles").beginObject();
  for (const auto& [name, count] : claimable(ability, tables)) {
    out.name(name).number(static_cast<std::int64_t>(count));
  }
  out.endObject();
  out.member("strategy", deliver::word(choice.strategy)).name("because").beginArray();
  for (const std::string& line : choice.because) out.string(line);
  out.endArray().name("strategies").beginArray();
  for (const deliver::Fit& each : choice.fits) {
    out.beginObject().member("strategy", deliver::word(each.strategy));
    out.name("fits").boolean(each.fits).member("because", each.because).endObject();
  }
  out.endArray().endObject();
  return std::string(out.text());
}

std::string_view yes(bool value) { return value ? "yes" : "no"; }

void print(std::ostream& out, const config::Destination& to, const deliver::Ability& ability,
           const deliver::Choice& choice) {
  out << to.name << ": " << to.server.base << "\nsoftware " << printable(ability.software)
      << ", FHIR " << printable(ability.fhirVersion) << "\ntransactions "
      << yes(ability.transaction) << ", batches " << yes(ability.batch) << '\n';
  for (const deliver::TypeAbility& each : ability.types) {
    out << "  " << each.type << ": create " << yes(each.create) << ", conditional create "
        << yes(each.conditionalCreate) << ", conditional update " << yes(each.conditionalUpdate)
        << ", update as create " << yes(each.updateCreate) << ", search by identifier "
        << yes(each.byIdentifier) << '\n';
  }
  out << "strategy: " << (choice.possible ? deliver::word(choice.strategy) : "none") << '\n';
  for (const std::string& line : choice.because) out << "  " << line << '\n';
  out << "strategies, best first:\n";
  for (const deliver::Fit& each : choice.fits) {
    out << "  " << deliver::word(each.strategy) << ": " << (each.fits ? "fits. " : "does not fit. ")
        << each.because << '\n';
  }
}

/// Where tokens are had and, if asked to, what is granted; never the token itself.
bool probeTokens(const config::Destination& to, const ProbeOptions& options, World& world) {
  if (to.server.auth.client.empty()) {
    if (options.token) world.err << "No tokens are asked for at " << to.name << ".\n";
    return true;
  }
  const Result<std::string> endpoint = deliver::tokenEndpoint(to.server);
  if (!endpoint) {
    for (const Issue& issue : endpoint.issues()) printIssue(world.err, issue);
    return false;
  }
  world.err << "tokens: " << printable(*endpoint) << " for " << to.server.auth.client << ", "
            << (to.server.auth.secretFile.empty() ? "signed" : "with a secret") << '\n';
  if (!options.token) return true;
  deliver::Tokens tokens(to.server);
  const Result<std::string> token = tokens.current(std::chrono::system_clock::now());
  if (!token) {
    for (const Issue& issue : token.issues()) printIssue(world.err, issue);
    return false;
  }
  world.err << "a token was granted for " << tokens.life().count() << " seconds, scopes "
            << (tokens.scopes().empty() ? "not told" : tokens.scopes()) << '\n';
  const std::string missing = tokens.ungranted();
  if (!missing.empty()) world.err << deliver::ungrantedSentence(missing) << '\n';
  return true;
}

int probeServer(const config::Destination& to, const ProbeOptions& options, World& world) {
  if (!probeTokens(to, options, world)) return kUnreachable;
  const Result<deliver::Ability> ability = deliver::askAbility(to.server);
  if (!ability) return refuse(ability.issues(), world, kUnreachable);
  const deliver::Choice choice = deliver::choose(*ability, to.server.strategy, to.shape.fhir);
  const PresetRow* const fits = presetFor(*ability, world.tables);
  if (options.json) {
    world.out << asJson(to, *ability, choice, fits, world.tables) << '\n';
  } else {
    print(world.out, to, *ability, choice);
    printProfiles(world.out, *ability, world.tables);
    printPresets(world.out, to, fits, world.tables);
  }
  return choice.possible ? kWell : kSetAside;
}

}  // namespace

int probe(const ProbeOptions& options, World& world) {
  const Result<config::Config> config = loadConfiguration(options.config, world.tables);
  if (!config) return refuse(config.issues(), world, kUsage);
  const Result<config::Destination> to = findDestination(*config, options.to);
  if (!to) return refuse(to.issues(), world, kUsage);
  if (const Issues wrong = credentialIssues(*to); !wrong.empty()) {
    return refuse(wrong, world, kUsage);
  }
  if (to->kind == config::Kind::Server) return probeServer(*to, options, world);
  const Issues issues = deliver::probeFolder(to->folder);
  refuse(issues, world, kUnreachable);
  if (!issues.empty()) return kUnreachable;
  world.out << to->name << ": folder " << to->folder.path.string() << " can be written to\n";
  return kWell;
}

}  // namespace footbridge::app
