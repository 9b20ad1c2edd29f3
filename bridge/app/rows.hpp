#pragma once
// Commands on an outbox that is open already, by the command line or within the service.

#include <string>

#include "app/commands.hpp"
#include "core/result.hpp"
#include "outbox/outbox.hpp"

namespace footbridge::app {

/// The name of the socket below the data folder by which commands reach a running service.
inline constexpr std::string_view kServiceSocket = "serve.sock";

/// Everything known of a row but its payload, as JSON.
std::string jsonRow(const outbox::Row& row);

/// Runs "list", "show", "retry", "release", "drop", "withdraw" or "accept"; gives the exit code.
int runOutbox(const std::string& command, const OutboxOptions& options, outbox::Outbox& outbox,
              World& world);

/// What a running service said to a command.
struct Said {
  int code = 0;
  std::string out;
  std::string err;
};

/// Has the service that holds the outbox run the command. Nothing if none runs.
std::optional<Said> askService(const std::string& command, const OutboxOptions& options,
                               const config::Config& config);

/// A command with its options as text, and back. Value or Structure if it is none.
std::string commandText(const std::string& command, const OutboxOptions& options);
Result<std::pair<std::string, OutboxOptions>> commandOf(std::string_view text);

}  // namespace footbridge::app
