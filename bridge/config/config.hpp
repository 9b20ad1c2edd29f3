#pragma once
// What a deployment chooses: where the outbox lives and where bundles go. Read from one TOML file;
// without one, everything works on this machine.

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/result.hpp"
#include "core/signing.hpp"
#include "json/value.hpp"

namespace footbridge::config {

enum class Kind : std::uint8_t { Folder, Server };

/// How a server is told what to store: see strategyTable() in deliver/strategy.hpp. Auto takes what
/// the server says it can do, the others are pinned whatever it says.
enum class Strategy : std::uint8_t {
  Auto,
  Transaction,
  Batch,
  Single,     ///< conditional creates one after another
  Search,     ///< look for it, then create
  ClientIds,  ///< PUT to ids that follow from the visit
  ConditionalUpdate
};

/// Whether the record's patient is compared with ours before readings go there.
enum class Identity : std::uint8_t { Check, Trust };

/// After which deliveries what the server stored is read and compared with what was sent. Sample:
/// one in ten.
enum class ReadBack : std::uint8_t { Always, Sample, Never };

/// How a transaction refers to the record's patient. Found: to the one that the search for the
/// identifier gave, for servers that do not resolve conditions.
enum class PatientBy : std::uint8_t { Bundle, Found };

/// Whether what is sent is compressed. WhenOffered: once an answer has named gzip in
/// Accept-Encoding (RFC 7694).
enum class Gzip : std::uint8_t { Never, WhenOffered, Always };

/// Where a client secret stands in the question for a token (RFC 6749 section 2.3.1).
enum class SecretIn : std::uint8_t { Header, Body };

/// How access tokens are asked for; not at all without a client. Either keys or a secret.
struct Auth {
  std::string client;                ///< client_id as registered there
  std::filesystem::path keys;        ///< folder of `footbridge keys`, or one PEM file
  std::filesystem::path secretFile;  ///< a client secret on one line
  SecretIn secretIn = SecretIn::Header;
  std::optional<Algorithm> algorithm;  ///< RS384 or ES384 by the kind of the key
  std::string tokenUrl;                ///< empty: as the server says
  std::string audience;                ///< of assertions; empty: the token endpoint
  std::string scopes;
};

/// How a record server is spoken to. Times are whole milliseconds.
struct Server {
  std::string base;
  Strategy strategy = Strategy::Auto;
  Identity identity = Identity::Check;
  PatientBy patientBy = PatientBy::Bundle;
  ReadBack readBack = ReadBack::Always;
  Gzip gzip = Gzip::Never;
  int connections = 8;
  std::chrono::milliseconds connectTime{5'000};
  std::chrono::milliseconds totalTime{60'000};
  std::vector<std::chrono::milliseconds> backOff;  ///< waits before try 2, 3, ...; empty: the table
  std::filesystem::path caFile;                    ///< empty: the system's authorities
  std::filesystem::path bearerFile;                ///< empty: no Authorization header
  Auth auth;
  std::filesystem::path certificateFile;  ///< both or none: mutual TLS
  std::filesystem::path certificateKeyFile;
};

/// How bundles are written to a folder.
struct Folder {
  std::filesystem::path path;
  bool ndjson = false;  ///< also the resources of each bundle, one file for each type
};

/// What bundles look like, by the names that the command line takes, too; "" where nothing is said.
struct Shape {
  std::string realm;     ///< row of realms.json
  std::string profiles;  ///< none | ours | checked | all
  std::string fhir;      ///< 4.0 | 4.3 | 5.0
};

/// One place where bundles go, by the name that `--to` takes.
struct Destination {
  std::string name;
  Kind kind = Kind::Folder;
  Server server;
  Folder folder;
  std::string preset;   ///< what it was filled in from; "" for none
  std::string patient;  ///< conditional | logical | create, of bundles; "" for the default
  Shape shape;
};

/// How `serve` takes messages of HL7 v2 in frames (MLLP).
struct Mllp {
  std::string address = "127.0.0.1";
  std::uint16_t port = 2575;  ///< as IANA has it for HL7
  std::filesystem::path portFile;
  std::string map;  ///< name of a source map; empty: known codes only
  std::filesystem::path certificateFile;
  std::filesystem::path certificateKeyFile;
  std::filesystem::path clientCaFile;
  std::size_t maxMessage = 8U << 20U;
  std::size_t connections = 256;
  std::chrono::milliseconds frameTime{30'000};  ///< from the first byte of a frame to its last
  std::chrono::milliseconds idleTime{0};        ///< between messages; 0: as long as it likes
  std::chrono::hours remember{720};  ///< control ids, to tell another message from a replay
};

/// A folder whose files `serve` takes in.
struct WatchedFolder {
  enum class Format : std::uint8_t { Json, Ndjson, Csv, Hl7v2, Fhir };
  std::string name;
  std::filesystem::path path;
  Format format = Format::Json;
  std::string map;                 ///< name of a source map, for csv, hl7v2 and fhir
  std::filesystem::path done;      ///< where files go that were taken
  std::filesystem::path setAside;  ///< where the others go, with their reasons
  std::chrono::seconds stable{2};  ///< a file that did not change for so long is finished
  std::chrono::seconds poll{10};   ///< between looks where nothing is told of changes
  std::uint64_t maxBytes = 16U << 20U;
};

/// How `serve` keeps its trail of accesses.
struct TrailKeeping {
  std::uint64_t maxBytes = 64U << 20U;  ///< of one file; then another is begun
  bool monthly = true;                  ///< another is begun with each month (UTC), too
  std::chrono::days keep{0};            ///< after which files are removed; 0: never
};

/// How `serve` listens, whom it lets in, and when it raises an alarm.
struct Serve {
  std::string address = "127.0.0.1";
  std::uint16_t port = 8460;
  std::filesystem::path portFile;            ///< empty: the port is written nowhere
  std::vector<std::string> to;               ///< destinations of what comes in; empty: all
  std::filesystem::path certificateFile;     ///< both or none: TLS
  std::filesystem::path certificateKeyFile;  ///< PEM
  std::filesystem::path clientCaFile;        ///< empty: no certificate is asked of clients
  std::filesystem::path tokensFile;          ///< empty: everyone who can connect may do all
  std::vector<std::pair<std::string, std::filesystem::path>> maps;  ///< source maps by name
  std::string ruleSet = "acc-aha-2024";
  std::uint64_t maxBody = 16U << 20U;
  std::size_t connections = 4'096;
  std::chrono::milliseconds headerTime{10'000};
  std::chrono::milliseconds bodyTime{60'000};
  std::chrono::milliseconds idleTime{60'000};
  std::chrono::milliseconds stopTime{20'000};  ///< for what is under way when told to stop
  std::chrono::seconds silence{0};             ///< alarm if nothing came in for so long; 0: never
  std::chrono::seconds undelivered{3'600};     ///< alarm if something is ready for so long
  int certificateDays = 30;                    ///< alarm if a certificate ends within so many
  TrailKeeping trail;
  std::optional<Mllp> mllp;
  std::vector<WatchedFolder> folders;
};

struct Config {
  std::filesystem::path data = "footbridge-data";
  std::filesystem::path keyFile;          ///< empty: outbox.key below `data`, made on first use
  std::chrono::hours keepDelivered{720};  ///< how long payloads stay after delivery: 30 days
  std::uint64_t maxBytes = 0;             ///< of the outbox; 0: as much as the disk takes
  std::filesystem::path codes;            ///< overlay of the catalogue; empty: none
  std::vector<Destination> destinations;
  Serve serve;

  /// The destination of that name, or nullptr.
  const Destination* find(std::string_view name) const;
};

/// What holds without a file: all under ./footbridge-data, one folder destination named "folder".
Config defaults();

/// What a destination may name as its preset: keys of destinations, by the name of the preset.
using Presets = std::map<std::string, json::Value, std::less<>>;

/// Reads a configuration. Relative paths in it are relative to the file. All problems are reported
/// at once: wrong types, values out of range, unknown keys with the nearest known one; place is the
/// key as a JSON Pointer.
Result<Config> load(const std::filesystem::path& file, const Presets& presets = {});

/// The same from text; `folder` is what relative paths are relative to.
Result<Config> parse(std::string_view text, const std::filesystem::path& folder,
                     const Presets& presets = {});

}  // namespace footbridge::config
