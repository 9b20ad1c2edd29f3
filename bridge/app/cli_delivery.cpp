#include "app/cli_delivery.hpp"

#include "core/text.hpp"

namespace footbridge::app {

void addConfig(CLI::App& command, std::filesystem::path& file) {
  command.add_option("--config", file,
                     "configuration file; default footbridge.toml, and without it a folder here");
}

namespace {

void addSend(CLI::App& root, SendOptions& options) {
  CLI::App* command =
      root.add_subcommand("send", "convert and deliver through the outbox, with receipts");
  addConfig(*command, options.config);
  command->add_option("--to", options.to, "name of the destination")->required();
  addInputs(*command, options.input);
  addRuleSet(*command, options.bundle.ruleSet);
  addShape(*command, options.shape);
  command->add_option("--patient", options.patient, "as in convert; default as configured")
      ->check(CLI::IsMember({"conditional", "logical", "create"}));
  command
      ->add_option("--wait", options.waitSeconds,
                   "seconds without progress until the rest is left in the outbox")
      ->check(CLI::Range(0, 86'400))
      ->capture_default_str();
  command
      ->add_flag("--queued", options.queued, "no input: only what waits in the outbox from before")
      ->excludes(command->get_option("INPUT"));
  command->add_flag("--json", options.json, "receipts as JSON, one a line");
}

CLI::App* addOutboxCommand(CLI::App& outbox, OutboxOptions& options, const std::string& name,
                           const std::string& about) {
  CLI::App* command = outbox.add_subcommand(name, about);
  addConfig(*command, options.config);
  return command;
}

/// What stands in the record for good has to say something.
void addForRecord(CLI::App& command, const std::string& name, std::string& value,
                  const std::string& about) {
  const CLI::Validator said(
      [](const std::string& text) {
        return trimmed(text).empty() ? std::string("is blank, and has to say something.") : "";
      },
      "");
  command.add_option(name, value, about)->required()->check(said);
}

void addDecision(CLI::App& outbox, OutboxOptions& options, const std::string& name,
                 const std::string& about) {
  CLI::App* command = addOutboxCommand(outbox, options, name, about);
  CLI::Option* rows = command->add_option("ROW", options.ids, "rows by their numbers");
  CLI::Option* all = command->add_flag("--all", options.all, "all of them")->excludes(rows);
  command->add_option("--to", options.to, "with --all: only those for this destination")
      ->needs(all);
}

void addRecheck(CLI::App& outbox, OutboxOptions& options) {
  CLI::App* command = addOutboxCommand(outbox, options, "recheck",
                                       "compare what was delivered with what the record holds now");
  command->add_option("--to", options.to, "only what was delivered to this destination");
  command->add_option("--since", options.sinceDays, "what was delivered in so many days (7)")
      ->check(CLI::Range(1, 36'500));
  command->add_flag("--json", options.json, "one delivery a line as JSON");
}

void addOutbox(CLI::App& root, OutboxOptions& options) {
  CLI::App* outbox = root.add_subcommand("outbox", "look after what has not arrived");
  outbox->require_subcommand(1);
  CLI::App* list = addOutboxCommand(*outbox, options, "list", "what is not delivered");
  list->add_option("--to", options.to, "only those for this destination");
  list->add_option("--state", options.state, "only those in this state")
      ->check(CLI::IsMember({"ready", "delivered", "refused", "held"}));
  list->add_flag("--check", options.check,
                 "exit code 1 if something is refused, held, or ready for too long");
  list->add_option("--older-than", options.olderThan, "what too long is for --check, in minutes")
      ->check(CLI::Range(0, 1'000'000))
      ->capture_default_str();
  list->add_flag("--json", options.json, "one row a line as JSON");
  CLI::App* show = addOutboxCommand(*outbox, options, "show", "everything about rows");
  show->add_option("ROW", options.ids, "rows by their numbers")->required();
  CLI::Option* json = show->add_flag("--json", options.json, "one row a line as JSON");
  show->add_flag("--bundle", options.bundle, "the bundle instead, as it is or was sent")
      ->excludes(json);
  addDecision(*outbox, options, "retry", "try refused rows again, or ready ones at once");
  addDecision(*outbox, options, "release", "let held rows go on");
  CLI::App* drop = addOutboxCommand(*outbox, options, "drop", "give up rows for good");
  drop->add_option("ROW", options.ids, "rows by their numbers")->required();
  addForRecord(*drop, "--because", options.because, "why, for the record");
  CLI::App* withdraw = addOutboxCommand(*outbox, options, "withdraw",
                                        "mark what was delivered entered-in-error in the record");
  withdraw->add_option("ROW", options.ids, "rows by their numbers")->required();
  addForRecord(*withdraw, "--because", options.because, "why, for the record");
  addForRecord(*withdraw, "--by", options.by, "who says so, for the record");
  addRecheck(*outbox, options);
  CLI::App* accept = addOutboxCommand(*outbox, options, "accept",
                                      "take held rows for delivered as the record has them");
  accept->add_option("ROW", options.ids, "rows by their numbers")->required();
  addForRecord(*accept, "--because", options.because, "why, for the record");
}

void addProbe(CLI::App& root, ProbeOptions& options) {
  CLI::App* command =
      root.add_subcommand("probe", "what a destination can and cannot do, and how it is sent to");
  addConfig(*command, options.config);
  command->add_option("--to", options.to, "name of the destination")->required();
  command->add_flag("--token", options.token, "also ask for an access token");
  command->add_flag("--json", options.json, "as JSON");
}

CLI::App* addKeysCommand(CLI::App& keys, KeysOptions& options, const std::string& name,
                         const std::string& about) {
  CLI::App* command = keys.add_subcommand(name, about);
  command->add_option("--dir", options.folder, "folder of the keys")->required();
  return command;
}

void addKeys(CLI::App& root, KeysOptions& options) {
  CLI::App* keys = root.add_subcommand("keys", "signing keys by which servers know this program");
  keys->require_subcommand(1);
  addKeysCommand(*keys, options, "new", "make the first key")
      ->add_option("--kind", options.kind, "rsa (RS384, RS512) or ec (ES384)")
      ->check(CLI::IsMember({"rsa", "ec"}))
      ->capture_default_str();
  addKeysCommand(*keys, options, "publish", "all public keys as a JSON Web Key Set");
  CLI::App* rotate =
      addKeysCommand(*keys, options, "rotate", "make a further key that does not sign yet");
  CLI::Option* use = rotate->add_option("--use", options.use, "let this key sign from now on");
  rotate->add_option("--retire", options.retire, "delete this key, which signs no more")
      ->excludes(use);
}

int dispatchKeys(const CLI::App& keys, const KeysOptions& options, World& world) {
  if (keys.got_subcommand("new")) return newKey(options, world);
  return keys.got_subcommand("publish") ? publishKeys(options, world) : rotateKeys(options, world);
}

int dispatchOutbox(const CLI::App& outbox, const OutboxOptions& options, World& world) {
  if (outbox.got_subcommand("list")) return listOutbox(options, world);
  if (outbox.got_subcommand("show")) return showOutbox(options, world);
  if (outbox.got_subcommand("retry")) return retryOutbox(options, world);
  if (outbox.got_subcommand("release")) return releaseOutbox(options, world);
  if (outbox.got_subcommand("withdraw")) return withdrawOutbox(options, world);
  if (outbox.got_subcommand("recheck")) return recheckOutbox(options, world);
  if (outbox.got_subcommand("accept")) return acceptOutbox(options, world);
  return dropOutbox(options, world);
}

}  // namespace

void addDelivery(CLI::App& root, DeliveryOptions& options) {
  addSend(root, options.send);
  addOutbox(root, options.outbox);
  addKeys(root, options.keys);
  addProbe(root, options.probe);
}

std::optional<int> dispatchDelivery(const CLI::App& root, DeliveryOptions& options, World& world) {
  if (root.got_subcommand("send")) return send(options.send, world);
  if (root.got_subcommand("probe")) return probe(options.probe, world);
  if (root.got_subcommand("keys")) {
    return dispatchKeys(*root.get_subcommand("keys"), options.keys, world);
  }
  if (!root.got_subcommand("outbox")) return std::nullopt;
  return dispatchOutbox(*root.get_subcommand("outbox"), options.outbox, world);
}

}  // namespace footbridge::app
