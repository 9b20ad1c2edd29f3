#include "app/cli_service.hpp"

#include "app/cli_delivery.hpp"

namespace footbridge::app {
namespace {

void addTokens(CLI::App& root, TokensOptions& options) {
  CLI::App* tokens = root.add_subcommand("tokens", "who may use the service, and for what");
  tokens->require_subcommand(1);
  CLI::App* make = tokens->add_subcommand("new", "make a token and print it, once");
  make->add_option("--name", options.name, "who will use it; stands in the audit trail")
      ->required();
  make->add_option("--role", options.roles, "submit, look, operate, audit: one or several")
      ->required()
      ->delimiter(',');
  CLI::App* list = tokens->add_subcommand("list", "names, roles and dates");
  CLI::App* revoke = tokens->add_subcommand("revoke", "take a token out");
  revoke->add_option("NAME", options.name, "as printed by `tokens list`")->required();
  for (CLI::App* each : {make, list, revoke}) {
    addConfig(*each, options.config);
    each->add_option("--file", options.file, "the token file; default as configured");
  }
}

void addAudit(CLI::App& root, AuditOptions& options) {
  CLI::App* audit = root.add_subcommand("audit", "the trail of accesses to the service");
  audit->require_subcommand(1);
  CLI::App* verify = audit->add_subcommand("verify", "whether it is as it was written");
  verify->add_option("--least", options.least,
                     "how many lines it had before, as an earlier check said");
  verify
      ->add_option("--from", options.from,
                   "the first line that has to be there, if older files were moved away")
      ->check(CLI::PositiveNumber);
  CLI::App* show = audit->add_subcommand("show", "its lines, as JSON");
  show->add_option("--after", options.after, "only those after this one");
  for (CLI::App* each : {verify, show}) addConfig(*each, options.config);
}

}  // namespace

void addService(CLI::App& root, ServiceOptions& options) {
  CLI::App* serve = root.add_subcommand("serve", "take assessments in and deliver them, on and on");
  addConfig(*serve, options.serve.config);
  addTokens(root, options.tokens);
  addAudit(root, options.audit);
}

std::optional<int> dispatchService(const CLI::App& root, ServiceOptions& options, World& world) {
  if (root.got_subcommand("serve")) return serve(options.serve, world);
  if (root.got_subcommand("tokens")) {
    const CLI::App& chosen = *root.get_subcommand("tokens")->get_subcommands().front();
    options.tokens.action = chosen.get_name();
    return tokens(options.tokens, world);
  }
  if (!root.got_subcommand("audit")) return std::nullopt;
  options.audit.action = root.get_subcommand("audit")->get_subcommands().front()->get_name();
  return audit(options.audit, world);
}

}  // namespace footbridge::app
