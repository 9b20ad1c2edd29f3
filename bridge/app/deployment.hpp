#pragma once
// From the configuration to what the delivering commands work on.

#include <functional>

#include "app/commands.hpp"
#include "app/recipe.hpp"
#include "config/config.hpp"
#include "core/seal.hpp"
#include "outbox/outbox.hpp"

namespace footbridge::app {

/// The configuration of that file; of footbridge.toml if none is given and it is there; else the
/// defaults. Presets are those of the tables. Addresses of servers are checked as well.
Result<config::Config> loadConfiguration(const std::filesystem::path& given, const Tables& tables);

/// The destination of that name, or an issue that names those there are.
Result<config::Destination> findDestination(const config::Config& config, const std::string& name);

/// What is wrong with the certificates and the key of a destination, which otherwise every bundle
/// would find out; nothing of a folder.
Issues certificateIssues(const config::Destination& destination);

/// The same, and what is wrong with the file of its token: a service waits for a better one, since
/// those change.
Issues credentialIssues(const config::Destination& destination);

/// Opens the outbox of the configuration; makes it, its folder and its key on first use, for this
/// user only. A key is never made anew for an outbox that is there. Bundles are made of
/// what is stored by the unfolder, which has to outlive it.
Result<outbox::Outbox> openOutbox(const config::Config& config, const Unfolder& unfolder);

/// The key of the outbox, for what else is sealed or hashed with it. It has to be there.
Result<Sealer> openSealer(const config::Config& config);

/// The audit trail, below the data folder, and the hash that chains it.
inline constexpr std::string_view kTrailFile = "audit.log";
std::function<std::string(std::string_view)> trailHash(const Sealer& sealer);

/// The version of this program.
std::string_view programVersion();

/// The moment to write into the outbox.
outbox::Time clockTime();

/// The moment in whole seconds, UTC, for what is judged or answered now.
Instant clockNow();

/// Prints issues; gives 4 if one is a failure of ours (NoStore, Exception), else `otherwise`.
int refuse(const Issues& issues, World& world, int otherwise);

}  // namespace footbridge::app
