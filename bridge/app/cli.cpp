// The command line. With the other cli_*.cpp the one place that knows CLI11.

#include <CLI/CLI.hpp>
#include <chrono>
#include <iostream>

#include "app/cli_delivery.hpp"
#include "app/cli_service.hpp"
#include "app/commands.hpp"
#include "app/deployment.hpp"
#include "app/report.hpp"
#include "app/shape.hpp"
#include "core/file.hpp"
#include "core/text.hpp"
#include "tables/overlay.hpp"

#ifndef FOOTBRIDGE_VERSION
#error "the build sets FOOTBRIDGE_VERSION"
#endif

namespace footbridge::app {
namespace {

constexpr std::string_view kAbout =
    "Footbridge takes the readings of a lower-limb arterial assessment, refuses or queries what\n"
    "cannot be right, derives the indices exactly, grades them by published rules and packages\n"
    "all of it as FHIR R4. Decision support only: local policy and licensed practice come first.";

constexpr std::string_view kExits =
    "Exit codes: 0 all well, 1 something was set aside or not delivered, 2 usage or\n"
    "configuration, 3 the destination cannot be reached, 4 our own failure.";

/// All options of all commands; only those of the chosen one are used.
struct Options {
  std::string tables;
  std::filesystem::path codesFile;
  ConvertOptions convert;
  CheckOptions check;
  ExplainOptions explain;
  SummaryOptions summary;
  LetterOptions letter;
  ExportOptions exported;
  PostOptions post;
  CodesOptions codes;
  DeliveryOptions delivery;
  ServiceOptions service;
  std::string rule;
};

void addConvert(CLI::App& root, ConvertOptions& options) {
  CLI::App* command = root.add_subcommand("convert", "readings to FHIR bundles");
  addInputs(*command, options.input);
  addRuleSet(*command, options.bundle.ruleSet);
  command->add_option("--out", options.out,
                      "write each bundle as a file here, and what was set aside below set-aside");
  const std::map<std::string, package::PatientReference> references{
      {"conditional", package::PatientReference::Conditional},
      {"logical", package::PatientReference::Logical},
      {"create", package::PatientReference::Create}};
  command
      ->add_option(
          "--patient", options.bundle.patientReference,
          "how the patient is referred to: conditional (the record must hold the patient),\n"
          "logical (identifier only), create (made in the record if not there)")
      ->transform(CLI::CheckedTransformer(references, CLI::ignore_case)
                      .description("{conditional,logical,create}"))
      ->default_str("conditional");
  addShape(*command, options.shape);
  command->add_flag("--quiet", options.quiet, "say nothing of what was accepted");
}

void addOthers(CLI::App& root, Options& options) {
  CLI::App* check = root.add_subcommand("check", "what is wrong or doubtful in readings");
  addInputs(*check, options.check.input);
  CLI::Option* outcomes =
      check->add_flag("--json", options.check.json, "one FHIR OperationOutcome a line");
  check
      ->add_option("--draft-map", options.check.draftMap,
                   "csv: propose a source map for this file, to be completed by hand")
      ->excludes(outcomes)
      ->excludes(check->get_option("INPUT"));
  CLI::App* explain =
      root.add_subcommand("explain", "how each index and grade came about: inputs, rule, source");
  addInputs(*explain, options.explain.input);
  explain->add_option("--item", options.explain.item,
                      "only what concerns this item, index, scheme or flag, such as abi or tcpo2");
  addRuleSet(*explain, options.explain.ruleSet);
  CLI::App* summary = root.add_subcommand("summary", "each assessment in a few lines for people");
  addInputs(*summary, options.summary.input);
  addRuleSet(*summary, options.summary.ruleSet);
  CLI::App* letter = root.add_subcommand(
      "letter", "each assessment as a page to print or send: one HTML document");
  addInputs(*letter, options.letter.input);
  addRuleSet(*letter, options.letter.letter.ruleSet);
  CLI::App* table =
      root.add_subcommand("export", "readings to one coded table without names, for an audit");
  addInputs(*table, options.exported.input);
  table->add_option("--as", options.exported.as, "one row a line")
      ->check(CLI::IsMember({"csv", "ndjson"}))
      ->capture_default_str();
  table
      ->add_option("--key", options.exported.keyFile,
                   "file with the key of the pseudonyms; made if it is not there")
      ->required();
  CLI::App* post =
      root.add_subcommand("post", "bundles straight to a record server, without queue or retry");
  post->add_option("--base", options.post.base, "address of the record server")->required();
  post->add_option("BUNDLES", options.post.bundles,
                   "files with one bundle a line; -: standard input")
      ->required();
}

void addLists(CLI::App& root, Options& options) {
  CLI::App* rules = root.add_subcommand("rules", "rule sets and remarks with their sources");
  rules->require_subcommand(1);
  rules->add_subcommand("list", "names of all rule sets");
  CLI::App* show = rules->add_subcommand("show", "one rule set, definition or remark in full");
  show->add_option("NAME", options.rule, "as printed by `rules list`")->required();
  CLI::App* codes = root.add_subcommand("codes", "the code catalogue");
  codes->require_subcommand(1);
  CLI::App* list =
      codes->add_subcommand("list", "every concept with its codings and their evidence");
  CLI::Option* json = list->add_flag("--json", options.codes.json, "one concept a line as JSON");
  list->add_flag("--fhir", options.codes.fhir, "our own codes as a FHIR CodeSystem")
      ->excludes(json);
  codes->add_subcommand("realms", "the realms that bundles can be written for");
  CLI::App* validate =
      codes->add_subcommand("validate", "hold every code against a FHIR terminology server");
  validate->add_option("--server", options.codes.server, "its FHIR base address")->required();
  validate->add_option("--bearer-file", options.codes.bearerFile, "file with a token for it");
  validate->add_option("--stamp", options.codes.stamp,
                       "write what was found as an overlay for --codes");
  validate->add_flag("--json", options.codes.json, "one coding a line as JSON");
}

/// Refuses a rule set that does not exist before any work is done.
bool ruleSetKnown(const std::string& name, World& world) {
  if (world.tables.ruleSet(name) != nullptr) return true;
  showRules(name, world);
  return false;
}

bool shapeKnown(ConvertOptions& options, World& world) {
  const Issues issues = chooseShape(options.shape, {}, world.tables, options.bundle);
  for (const Issue& issue : issues) printIssue(world.err, issue);
  return issues.empty();
}

/// Loads the source map of a table, with all its problems at once.
bool mapLoaded(InputOptions& options, World& world) {
  const bool messages = options.from == "hl7v2";
  const bool resources = options.from == "form" || options.from == "fhir";
  if (options.map.empty() && options.from != "csv") return true;
  if (options.map.empty() || (options.from != "csv" && !messages && !resources)) {
    world.err << "A table needs both --from csv and --map FILE; docs/source-maps.md shows how to "
                 "write the map, and check --from csv --draft-map TABLE proposes one. Messages "
                 "(--from hl7v2) and resources (--from fhir) may have a map too.\n";
    return false;
  }
  const Result<std::string> bytes = readFile(options.map);
  if (!bytes) {
    for (const Issue& issue : bytes.issues()) printIssue(world.err, issue);
    return false;
  }
  Result<csv::SourceMap> map = csv::loadSourceMap(*bytes, world.tables);
  if (!map) {
    world.err << options.map << ": " << map.issues().size() << " problems in the source map\n";
    for (const Issue& issue : map.issues()) printIssue(world.err, issue);
    return false;
  }
  if (map->messages.has_value() != messages || map->resources.has_value() != resources) {
    world.err
        << options.map
        << ": a map with [hl7] is for --from hl7v2, one with [fhir] for fhir, others for csv\n";
    return false;
  }
  options.sourceMap = *std::move(map);
  return true;
}

int runCheck(CheckOptions& options, World& world) {
  if (!options.draftMap.empty()) return draftMap(options.draftMap, world);
  return mapLoaded(options.input, world) ? check(options, world) : kUsage;
}

int dispatchCodes(const CLI::App& codes, const CodesOptions& options, World& world) {
  if (codes.got_subcommand("realms")) return listRealms(world);
  if (codes.got_subcommand("validate")) return validateCodes(options, world);
  return listCodes(options, world);
}

/// The configuration file of the command that makes bundles by it, if it is one.
const std::filesystem::path* configurationOf(const CLI::App& root, const Options& options) {
  if (root.got_subcommand("send")) return &options.delivery.send.config;
  if (root.got_subcommand("outbox")) return &options.delivery.outbox.config;
  return root.got_subcommand("serve") ? &options.service.serve.config : nullptr;
}

/// The overlay file of the catalogue that is asked for, or that the command is configured with.
std::filesystem::path overlayFile(const CLI::App& root, const Options& options,
                                  const Tables& tables) {
  const std::filesystem::path* file = configurationOf(root, options);
  if (!options.codesFile.empty() || file == nullptr) return options.codesFile;
  const Result<config::Config> config = loadConfiguration(*file, tables);
  // The command itself says what is wrong with it.
  return config ? config->codes : std::filesystem::path{};
}

Issues layOver(Tables& tables, const std::filesystem::path& file) {
  if (file.empty()) return {};
  const Result<std::string> bytes = readFile(file);
  return bytes ? layOver(tables, *bytes, file.filename().string()) : bytes.issues();
}

int dispatch(const CLI::App& root, Options& options, World& world) {
  if (root.got_subcommand("convert")) {
    options.convert.bundle.version = FOOTBRIDGE_VERSION;
    if (!shapeKnown(options.convert, world)) return kUsage;
    if (!ruleSetKnown(options.convert.bundle.ruleSet, world)) return kUsage;
    if (!mapLoaded(options.convert.input, world)) return kUsage;
    return convert(options.convert, world);
  }
  if (root.got_subcommand("send")) {
    options.delivery.send.bundle.version = FOOTBRIDGE_VERSION;
    if (!ruleSetKnown(options.delivery.send.bundle.ruleSet, world)) return kUsage;
    if (!mapLoaded(options.delivery.send.input, world)) return kUsage;
  }
  options.delivery.outbox.version = FOOTBRIDGE_VERSION;
  if (const auto code = dispatchDelivery(root, options.delivery, world)) return *code;
  options.service.serve.version = FOOTBRIDGE_VERSION;
  if (const auto code = dispatchService(root, options.service, world)) return *code;
  if (root.got_subcommand("check")) return runCheck(options.check, world);
  if (root.got_subcommand("explain")) {
    if (!mapLoaded(options.explain.input, world)) return kUsage;
    return ruleSetKnown(options.explain.ruleSet, world) ? explain(options.explain, world) : kUsage;
  }
  if (root.got_subcommand("summary")) {
    if (!mapLoaded(options.summary.input, world)) return kUsage;
    return ruleSetKnown(options.summary.ruleSet, world) ? summary(options.summary, world) : kUsage;
  }
  if (root.got_subcommand("letter")) {
    options.letter.letter.version = FOOTBRIDGE_VERSION;
    if (!mapLoaded(options.letter.input, world)) return kUsage;
    return ruleSetKnown(options.letter.letter.ruleSet, world) ? letter(options.letter, world)
                                                              : kUsage;
  }
  if (root.got_subcommand("export")) {
    return mapLoaded(options.exported.input, world) ? exportRows(options.exported, world) : kUsage;
  }
  if (root.got_subcommand("post")) return post(options.post, world);
  if (root.got_subcommand("codes")) {
    options.codes.version = FOOTBRIDGE_VERSION;
    return dispatchCodes(*root.get_subcommand("codes"), options.codes, world);
  }
  const bool show = root.get_subcommand("rules")->got_subcommand("show");
  return show ? showRules(options.rule, world) : listRules(world);
}

/// Every command and option that may stand after the commands that were understood.
void collectNames(const CLI::App& command, std::vector<std::string>& out) {
  for (const CLI::Option* option : command.get_options()) {
    for (const std::string& name : option->get_lnames()) out.push_back("--" + name);
  }
  for (const CLI::App* below : command.get_subcommands([](const CLI::App*) { return true; })) {
    out.push_back(below->get_name());
    if (below->parsed()) collectNames(*below, out);
  }
}

/// Says what was probably meant by words that nothing takes.
void guess(const CLI::App& root) {
  std::vector<std::string> names;
  collectNames(root, names);
  for (const std::string& word : root.remaining(true)) {
    const std::string_view close = nearest(word.substr(0, word.find('=')), names);
    std::cerr << "Nothing here is called \"" << printable(word) << "\". ";
    if (close.empty()) std::cerr << "--help names what there is.\n";
    if (!close.empty()) std::cerr << "Did you mean " << close << "?\n";
  }
}

}  // namespace

void addInputs(CLI::App& command, InputOptions& options) {
  command.add_option("INPUT", options.inputs,
                     "files with one assessment, a list, or one a line; - or none: standard input");
  command
      .add_option("--from", options.from,
                  "how the input is written; fhir (or form): filled-in forms, and Bundles of\n"
                  "Observations")
      ->check(CLI::IsMember({"json", "ndjson", "csv", "hl7v2", "form", "fhir"}))
      ->capture_default_str();
  command.add_option("--map", options.map,
                     "csv, hl7v2, fhir: the source map that says what columns or codes mean");
  command
      .add_option("--previous", options.previous,
                  "a file of earlier bundles to compare each patient's latest figures with;\n"
                  "may be given several times")
      ->allow_extra_args(false)
      ->check(CLI::ExistingFile);
  command
      .add_option("--jobs", options.jobs,
                  "how many assessments at a time; the order of the output is that of the input")
      ->check(CLI::Range(1, 64))
      ->capture_default_str();
}

void addShape(CLI::App& command, config::Shape& shape) {
  command.add_option("--realm", shape.realm,
                     "whose conventions bundles keep to (see `codes realms`)");
  command
      .add_option(
          "--profiles", shape.profiles,
          "which profiles resources claim: none, ours, checked (ours and those of the realm\n"
          "that were held against the published definitions), all")
      ->check(CLI::IsMember({"none", "ours", "checked", "all"}));
  command.add_option("--fhir", shape.fhir, "FHIR release; 4.3 has the same bytes as 4.0")
      ->check(CLI::IsMember({"4.0", "4.3", "5.0"}));
}

void addRuleSet(CLI::App& command, std::string& name) {
  command.add_option("--rules", name, "rule set for the index classes (see `rules list`)")
      ->capture_default_str();
}

int run(int argc, char** argv) {
  Options options;
  CLI::App root{std::string(kAbout), "footbridge"};
  root.footer(std::string(kExits));
  root.set_version_flag("--version", "footbridge " FOOTBRIDGE_VERSION);
  root.require_subcommand(1);
  root.add_option("--codes", options.codesFile, "lay the codings of this file over the catalogue");
  root.add_option("--tables", options.tables, "use the table files of this directory instead");
  addConvert(root, options.convert);
  addDelivery(root, options.delivery);
  addService(root, options.service);
  addOthers(root, options);
  addLists(root, options);
  try {
    root.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    if (root.exit(error) == 0) return kWell;
    guess(root);
    return kUsage;
  }
  Result<Tables> tables = options.tables.empty() ? embeddedTables() : loadTables(options.tables);
  if (!tables) {
    for (const Issue& issue : tables.issues()) printIssue(std::cerr, issue);
    return kUsage;
  }
  if (const Issues issues = layOver(*tables, overlayFile(root, options, *tables));
      !issues.empty()) {
    for (const Issue& issue : issues) printIssue(std::cerr, issue);
    return kUsage;
  }
  World world{std::cin, std::cout, std::cerr, clockNow(), *tables};
  return dispatch(root, options, world);
}

}  // namespace footbridge::app
