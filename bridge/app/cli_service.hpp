#pragma once
// The part of the command line that is about the service.

#include <CLI/CLI.hpp>

#include "app/commands.hpp"

namespace footbridge::app {

struct ServiceOptions {
  ServeOptions serve;
  TokensOptions tokens;
  AuditOptions audit;
};

void addService(CLI::App& root, ServiceOptions& options);

/// Runs the command of the service that was chosen; nothing if it was another.
std::optional<int> dispatchService(const CLI::App& root, ServiceOptions& options, World& world);

}  // namespace footbridge::app
