// Tokens and the audit trail, on the command line.

#include <algorithm>
#include <chrono>
#include <ostream>

#include "app/commands.hpp"
#include "app/deployment.hpp"
#include "app/report.hpp"
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

int showTrail(const std::filesystem::path& file, std::int64_t after, World& world) {
  const auto from = static_cast<std::uint64_t>(std::max<std::int64_t>(after, 0));
  const Issues issues = serve::readTrail(file, from, [&](const serve::TrailText& line) {
    if (line.number > from) world.out << line.text << '\n';
    return true;
  });
  return issues.empty() ? kWell : refuse(issues, world, kUsage);
}

void tellLines(const serve::TrailReport& report, std::ostream& out) {
  if (report.first > 1) {
    out << "lines " << report.first << " to " << report.lines;
  } else {
    out << report.lines << " lines";
  }
  out << ", last " << report.chain << '\n';
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
  world.out << *token << '\n' << std::flush;
  if (!world.out) {
    // Nobody has seen it.
    return refuse(serve::removeToken(*file, options.name), world, kOwnFailure);
  }
  world.err << "This is the only time it is shown: " << file->string()
            << " holds a digest of it. A running service knows it after SIGHUP.\n";
  return kWell;
}

int audit(const AuditOptions& options, World& world) {
  const Result<config::Config> config = loadConfiguration(options.config, world.tables);
  if (!config) return refuse(config.issues(), world, kUsage);
  const std::filesystem::path trail = config->data / kTrailFile;
  if (options.action == "show") return showTrail(trail, options.after, world);
  const Result<Sealer> sealer = openSealer(*config);
  if (!sealer) return refuse(sealer.issues(), world, kUsage);
  const serve::TrailReport report = serve::verifyTrail(trail, trailHash(*sealer), options.from);
  const bool unread = !report.issues.empty() && report.issues.front().type == IssueType::NotFound;
  if (unread) return refuse(report.issues, world, kUsage);
  for (const Issue& issue : report.issues) printIssue(world.err, issue);
  tellLines(report, world.out);
  if (report.torn) {
    world.err << "The last line is unfinished: the service is writing, or was cut off.\n";
  }
  const bool shorter = report.lines < options.least;
  if (shorter) {
    world.err << "There were " << options.least << " lines before: the end was cut off.\n";
  }
  const bool beyond = options.from > 1 && report.lines < options.from;
  if (beyond) world.err << "Line " << options.from << ", which has to be there, is not.\n";
  return report.issues.empty() && !shorter && !beyond ? kWell : kSetAside;
}

}  // namespace footbridge::app
