#pragma once
// The commands, each a function of its options and of what the world hands it.

#include <filesystem>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

#include "config/config.hpp"
#include "core/time.hpp"
#include "csv/source_map.hpp"
#include "package/letter.hpp"
#include "package/sheet.hpp"
#include "tables/tables.hpp"

namespace footbridge::app {

/// The exit codes of every command.
enum Exit : int {
  kWell = 0,         ///< all well
  kSetAside = 1,     ///< something was set aside or not delivered
  kUsage = 2,        ///< usage or configuration
  kUnreachable = 3,  ///< the destination cannot be reached
  kOwnFailure = 4    ///< our own failure
};

/// What a command may use of the world. Data go to `out`, messages for people to `err`.
struct World {
  std::istream& in;
  std::ostream& out;
  std::ostream& err;
  Instant now;
  const Tables& tables;
};

struct InputOptions {
  std::vector<std::string> inputs;          ///< files, "-" or none for standard input
  std::string from = "json";                ///< json | ndjson | csv | hl7v2 | form | fhir
  std::string map;                          ///< csv: file of the source map
  std::optional<csv::SourceMap> sourceMap;  ///< csv: what it says
  std::vector<std::string> previous;        ///< files of earlier bundles to compare with
  std::size_t jobs = 1;                     ///< how many assessments at a time
};

struct ConvertOptions {
  InputOptions input;
  package::BundleOptions bundle;
  config::Shape shape;
  std::filesystem::path out;  ///< empty: bundles to standard output, one a line
  bool quiet = false;
};

struct CheckOptions {
  InputOptions input;
  std::string draftMap;  ///< a table for which a source map is proposed, "" for none
  bool json = false;
};

struct ExplainOptions {
  InputOptions input;
  std::string item;  ///< only what concerns this item, index or scheme
  std::string ruleSet = "acc-aha-2024";
};

struct SummaryOptions {
  InputOptions input;
  std::string ruleSet = "acc-aha-2024";
};

struct LetterOptions {
  InputOptions input;
  package::LetterOptions letter;
};

struct ExportOptions {
  InputOptions input;
  std::string as = "csv";         ///< or "ndjson"
  std::filesystem::path keyFile;  ///< of the pseudonyms; made if it is not there
};

struct PostOptions {
  std::string base;
  std::vector<std::string> bundles;  ///< files with one bundle a line, "-" for standard input
};

struct CodesOptions {
  bool json = false;
  bool fhir = false;                 ///< our CodeSystem as a FHIR resource
  std::string server;                ///< validate: address of a terminology server
  std::filesystem::path bearerFile;  ///< validate: secret for it; empty: none
  std::filesystem::path stamp;       ///< validate: overlay file to write; empty: none
  std::string version;
};

struct SendOptions {
  InputOptions input;
  package::BundleOptions bundle;
  std::string to;
  std::filesystem::path config;  ///< empty: footbridge.toml if it is there
  config::Shape shape;           ///< as configured where nothing is said
  std::string patient;           ///< conditional | logical | create; "" as configured
  int waitSeconds = 30;          ///< without progress until the rest is left in the outbox
  bool queued = false;           ///< no input: only what is in the outbox already
  bool json = false;
};

struct OutboxOptions {
  std::filesystem::path config;
  std::string to;       ///< only this destination
  std::string state;    ///< only this state; list: without one, all that is not delivered
  std::string because;  ///< why something is dropped, withdrawn or accepted
  std::string by;       ///< who withdraws
  std::string version;  ///< of the program
  std::vector<std::int64_t> ids;
  std::int64_t olderThan = 60;  ///< minutes after which --check minds what is ready
  std::int64_t sinceDays =
      0;             ///< list, recheck: in their state for at most so long; 0: however long
  bool all = false;  ///< retry, release: every row of that destination and state
  bool check = false;
  bool bundle = false;
  bool json = false;
};

struct KeysOptions {
  std::filesystem::path folder;
  std::string kind = "rsa";  ///< new: rsa | ec
  std::string use;           ///< rotate: the key that signs from now on
  std::string retire;        ///< rotate: the key to delete
};

struct ProbeOptions {
  std::filesystem::path config;
  std::string to;
  bool token = false;  ///< also ask for a token
  bool json = false;
};

struct ServeOptions {
  std::filesystem::path config;
  std::string version;
};

struct TokensOptions {
  std::filesystem::path config;
  std::filesystem::path file;  ///< empty: as configured
  std::string action;          ///< new | list | revoke
  std::string name;
  std::vector<std::string> roles;
};

struct AuditOptions {
  std::filesystem::path config;
  std::string action;  ///< verify | show
  std::int64_t after = 0;
  std::uint64_t least = 0;  ///< lines that there were before
  std::uint64_t from = 1;   ///< those before this one were moved away
};

int convert(const ConvertOptions& options, World& world);
int check(const CheckOptions& options, World& world);
int draftMap(const std::string& table, World& world);
int explain(const ExplainOptions& options, World& world);
int summary(const SummaryOptions& options, World& world);
int letter(const LetterOptions& options, World& world);
int exportRows(const ExportOptions& options, World& world);
int post(const PostOptions& options, World& world);
int send(const SendOptions& options, World& world);
int listOutbox(const OutboxOptions& options, World& world);
int showOutbox(const OutboxOptions& options, World& world);
int retryOutbox(const OutboxOptions& options, World& world);
int releaseOutbox(const OutboxOptions& options, World& world);
int dropOutbox(const OutboxOptions& options, World& world);
int withdrawOutbox(const OutboxOptions& options, World& world);
int acceptOutbox(const OutboxOptions& options, World& world);
int recheckOutbox(const OutboxOptions& options, World& world);
int newKey(const KeysOptions& options, World& world);
int publishKeys(const KeysOptions& options, World& world);
int rotateKeys(const KeysOptions& options, World& world);
int probe(const ProbeOptions& options, World& world);
int serve(const ServeOptions& options, World& world);
int tokens(const TokensOptions& options, World& world);
int audit(const AuditOptions& options, World& world);
int listRules(World& world);
int showRules(const std::string& name, World& world);
int listCodes(const CodesOptions& options, World& world);
int listRealms(World& world);
int validateCodes(const CodesOptions& options, World& world);

/// Parses the command line and runs the command.
int run(int argc, char** argv);

/// What the program ends with once its output is out: `code`, or kOwnFailure with a word why if not
/// all of it could be written.
int finish(int code, std::ostream& out, std::ostream& err);

}  // namespace footbridge::app
