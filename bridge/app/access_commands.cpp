// Tokens and the audit trail, on the command line.

#include <chrono>
#include <ostream>
#include <sstream>

#include "app/commands.hpp"
#include "app/deployment.hpp"
#include "app/report.hpp"
#include "core/file.hpp"
#include "serve/tokens.hpp"
#include "serve/trail.hpp"

namespace footbridge::app {
namespace {

/// The file that was named, or the one of the configuration.
Result<std::filesystem::path> tokensFile(const TokensOptions& options, World& world) {
  if (!options.file.empty()) return options.file;
  const Result<config::Config> config = loadConfiguration(options.config, world.tables);
  if (!config) return config.issues();
  if (!config->serve.tokensFile.empty()) return config->serve.tokensFile;
  return Issue{Severity::Error,
               IssueType::Required,
               "tokens",
               "",
               "The configuration names no tokens_file in [serve].",
               "Set it, or say --file FILE."};
}

Result<std::vector<serve::Role>> rolesOf(const std::vector<std::string>& words) {
  std::vector<serve::Role> out;
  for (const std::string& word : words) {
    const std::optional<serve::Role> role = serve::roleOf(word);
    if (!role) {
      return Issue{Severity::Error,
                   IssueType::Value,
                   "tokens",
                   "",
                   "There is no role " + word + ".",
                   "submit, look, operate or audit."};
    }
    out.push_back(*role);
  }
  return out;
}

int listTokens(const std::filesystem::path& file, World& world) {
  const Result<std::vector<serve::Token>> tokens = serve::loadTokens(file);
  if (!tokens) return refuse(tokens.issues(), world, kUsage);
  for (const serve::Token& token : *tokens) {
    world.out << token.name << "  ";
    for (const serve::Role role : token.roles) world.out << serve::word(role) << ' ';
    world.out << " made " << token.made << '\n';
  }
  return kWell;
}

}  // namespace

int tokens(const TokensOptions& options, World& world) {
  const Result<std::filesystem::path> file = tokensFile(options, world);
  if (!file) return refuse(file.issues(), world, kUsage);
  if (options.action == "list") return listTokens(*file, world);
  if (options.action == "revoke") {
    const Issues issues = serve::removeToken(*file, options.name);
    if (!issues.empty()) return refuse(issues, world, kUsage);
    world.err << "Taken out. A running service goes on to accept it until it gets SIGHUP.\n";
    return kWell;
  }
  const Result<std::vector<serve::Role>> roles = rolesOf(options.roles);
  if (!roles) return refuse(roles.issues(), world, kUsage);
  const Result<std::string> token =
      serve::addToken(*file, options.name, *roles, text(localDate(world.now)));
  if (!token) return refuse(token.issues(), world, kUsage);
  world.out << *token << '\n';
  world.err << "This is the only time it is shown: " << file->string()
            << " holds a digest of it. A running service knows it after SIGHUP.\n";
  return kWell;
}

int audit(const AuditOptions& options, World& world) {
  const Result<config::Config> config = loadConfiguration(options.config, world.tables);
  if (!config) return refuse(config.issues(), world, kUsage);
  const Result<std::string> trail = readFile(config->data / kTrailFile);
  if (!trail) return refuse(trail.issues(), world, kUsage);
  if (options.action == "show") {
    std::istringstream lines(*trail);
    std::int64_t number = 0;
    for (std::string line; std::getline(lines, line);) {
      if (++number > options.after) world.out << line << '\n';
    }
    world.out.flush();
    return world.out ? kWell : kOwnFailure;
  }
  const Result<Sealer> sealer = openSealer(*config);
  if (!sealer) return refuse(sealer.issues(), world, kUsage);
  const serve::TrailReport report = serve::verifyTrail(*trail, trailHash(*sealer));
  for (const Issue& issue : report.issues) printIssue(world.err, issue);
  world.out << report.lines << " lines, last " << report.chain << '\n';
  const bool torn = !trail->empty() && !trail->ends_with('\n');
  if (torn) world.err << "The last line is unfinished: the service is writing, or was cut off.\n";
  const bool shorter = report.lines < options.least;
  if (shorter) {
    world.err << "There were " << options.least << " lines before: the end was cut off.\n";
  }
  return report.issues.empty() && !shorter ? kWell : kSetAside;
}

}  // namespace footbridge::app
