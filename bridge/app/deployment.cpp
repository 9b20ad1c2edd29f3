#include "app/deployment.hpp"

#include <algorithm>
#include <ostream>

#include "app/report.hpp"
#include "core/file.hpp"
#include "core/text.hpp"
#include "deliver/address.hpp"
#include "deliver/transport.hpp"
#include "serve/certificate.hpp"

namespace footbridge::app {
namespace {

Issue badAddress(const config::Destination& destination, const std::string& key) {
  return {Severity::Error,
          IssueType::Value,
          "config",
          "/destinations/" + destination.name + "/" + key,
          "The address of " + destination.name +
              " has to be https, or http on this machine's loopback, without user or password in "
              "it.",
          "Secrets go into files: see bearer_file and certificate_file."};
}

Issues addressIssues(const config::Config& config) {
  Issues out;
  for (const config::Destination& each : config.destinations) {
    if (each.kind != config::Kind::Server) continue;
    const std::string& token = each.server.auth.tokenUrl;
    if (!deliver::allowedBase(each.server.base)) out.push_back(badAddress(each, "base"));
    if (!token.empty() && !deliver::allowedAddress(token)) {
      out.push_back(badAddress(each, "auth/token_url"));
    }
  }
  return out;
}

config::Presets presetsOf(const Tables& tables) {
  config::Presets out;
  for (const PresetRow& row : tables.presets) out.emplace(row.id, row.settings);
  return out;
}

Issues makeDataFolder(const std::filesystem::path& folder) {
  std::error_code failed;
  if (std::filesystem::is_directory(folder, failed)) return {};
  std::filesystem::create_directories(folder, failed);
  if (!failed) {
    std::filesystem::permissions(folder, std::filesystem::perms::owner_all, failed);
  }
  if (!failed) return {};
  return {{Severity::Fatal, IssueType::NoStore, "outbox", "",
           "The data folder " + folder.string() + " cannot be made: " + failed.message() + ".",
           "Set `data` in the configuration to a folder that this user may write to."}};
}

std::filesystem::path keyFileOf(const config::Config& config) {
  return config.keyFile.empty() ? config.data / "outbox.key" : config.keyFile;
}

}  // namespace

Result<config::Config> loadConfiguration(const std::filesystem::path& given, const Tables& tables) {
  const std::filesystem::path usual = "footbridge.toml";
  std::error_code ignored;
  if (given.empty() && !std::filesystem::exists(usual, ignored)) return config::defaults();
  Result<config::Config> out = config::load(given.empty() ? usual : given, presetsOf(tables));
  if (!out) return out;
  if (Issues issues = addressIssues(*out); !issues.empty()) return issues;
  return out;
}

Result<config::Destination> findDestination(const config::Config& config, const std::string& name) {
  if (const config::Destination* found = config.find(name)) return *found;
  std::vector<std::string> names;
  std::string all;
  for (const config::Destination& each : config.destinations) {
    names.push_back(each.name);
    all += (all.empty() ? "" : ", ") + each.name;
  }
  const std::string_view close = nearest(name, names);
  return Issue{
      Severity::Error,
      IssueType::NotFound,
      "config",
      "",
      "There is no destination \"" + printable(name) + "\".",
      close.empty() ? "Configured: " + all + "." : "Did you mean " + std::string(close) + "?"};
}

Issues certificateIssues(const config::Destination& destination) {
  const config::Server& server = destination.server;
  Issues out;
  if (!server.caFile.empty()) append(out, serve::validUntil(server.caFile).issues());
  if (!server.certificateFile.empty()) {
    append(out, serve::pairIssues(server.certificateFile, server.certificateKeyFile));
  }
  for (Issue& issue : out) issue.place = "/destinations/" + destination.name;
  return out;
}

Issues credentialIssues(const config::Destination& destination) {
  Issues out = certificateIssues(destination);
  const std::filesystem::path& bearer = destination.server.bearerFile;
  if (!bearer.empty()) append(out, deliver::readBearer(bearer).issues());
  return out;
}

Result<outbox::Outbox> openOutbox(const config::Config& config, const Unfolder& unfolder) {
  if (Issues issues = makeDataFolder(config.data); !issues.empty()) return issues;
  const std::filesystem::path file = config.data / "outbox.db";
  const std::filesystem::path key = keyFileOf(config);
  std::error_code ignored;
  const bool there = std::filesystem::exists(file, ignored);
  Result<Sealer> sealer =
      Sealer::fromKeyFile(key, there ? Sealer::Absent::Refuse : Sealer::Absent::Create);
  if (!sealer) return std::move(sealer).issues();
  if (!there) {
    // SQLite gives its journal the rights of this file.
    if (Issues issues = createSecretFile(file, ""); !issues.empty()) return issues;
  }
  Result<outbox::Outbox> out = outbox::Outbox::open(file, *std::move(sealer), config.maxBytes);
  if (!out) return out;
  out->unfoldBy([&unfolder](std::string stored) { return unfolder.unfold(std::move(stored)); });
  return out;
}

std::string_view programVersion() { return FOOTBRIDGE_VERSION; }

Result<Sealer> openSealer(const config::Config& config) {
  return Sealer::fromKeyFile(keyFileOf(config), Sealer::Absent::Refuse);
}

std::function<std::string(std::string_view)> trailHash(const Sealer& sealer) {
  return
      [&sealer](std::string_view text) { return sealer.keyedHash("trail\n" + std::string(text)); };
}

Instant clockNow() {
  return {std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now()), 0};
}

outbox::Time clockTime() {
  return std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now());
}

int refuse(const Issues& issues, World& world, int otherwise) {
  for (const Issue& issue : issues) printIssue(world.err, issue);
  const bool ours = std::any_of(issues.begin(), issues.end(), [](const Issue& issue) {
    return issue.type == IssueType::NoStore || issue.type == IssueType::Exception;
  });
  return ours ? static_cast<int>(kOwnFailure) : otherwise;
}

}  // namespace footbridge::app
