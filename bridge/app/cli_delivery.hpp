#pragma once
// The part of the command line that is about delivery. Beside cli.cpp the one file that knows
// CLI11.

#include <CLI/CLI.hpp>

#include "app/commands.hpp"

namespace footbridge::app {

struct DeliveryOptions {
  SendOptions send;
  OutboxOptions outbox;
  KeysOptions keys;
  ProbeOptions probe;
};

void addInputs(CLI::App& command, InputOptions& options);
void addRuleSet(CLI::App& command, std::string& name);
void addConfig(CLI::App& command, std::filesystem::path& file);
void addShape(CLI::App& command, config::Shape& shape);

void addDelivery(CLI::App& root, DeliveryOptions& options);

/// Runs the delivery command that was chosen; nothing if it was another.
std::optional<int> dispatchDelivery(const CLI::App& root, DeliveryOptions& options, World& world);

}  // namespace footbridge::app
