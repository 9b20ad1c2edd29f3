#include <algorithm>

#include "config/config.hpp"
#include "config/section.hpp"
#include "config/serve.hpp"
#include "config/wires.hpp"
#include "core/file.hpp"
#include "core/text.hpp"
#include "json/toml.hpp"

namespace footbridge::config {
namespace {

using std::chrono::milliseconds;

/// What delivery and read-back need, and no more (SMART App Launch 2: create, read, update,
/// search).
constexpr std::string_view kScopes =
    "system/Patient.rs system/Observation.crus system/DiagnosticReport.crus system/Device.crus "
    "system/Provenance.crus";

/// In the order of Strategy.
const std::vector<std::string> kStrategies{
    "auto", "transaction", "batch", "single", "search", "client-ids", "conditional-update"};

class Loader {
 public:
  Loader(const std::filesystem::path& folder, const Presets& presets)
      : folder_(folder), presets_(presets) {}

  Config config(Section root) {
    Config out;
    out.data = path(root, "data").value_or(folder_ / "footbridge-data");
    out.codes = path(root, "codes").value_or(std::filesystem::path{});
    Section outbox = root.table("outbox");
    takeOutbox(outbox, out);
    Section destinations = root.table("destinations");
    for (const std::string& name : destinations.tables()) {
      if (!plainName(name)) {
        destinations.fault(name, "The name of a destination is made of a-z, 0-9, - and _",
                           "Give it such a name, at most 40 characters long.");
      }
      Section table = destinations.table(name);
      json::Value merged;
      const std::string preset = presetOf(table);
      Section filled = preset.empty() ? table : table.over(presets_.find(preset)->second, merged);
      out.destinations.push_back(destination(name, filled));
      out.destinations.back().preset = preset;
    }
    destinations.refuseUnknown();
    Section service = root.table("serve");
    out.serve = takeServe(service, folder_, out);
    root.refuseUnknown();
    if (out.destinations.empty()) {
      out.destinations.push_back(
          {"folder", Kind::Folder, {}, {out.data / "delivered", false}, "", "", {}});
    }
    refuseOverlaps(root, out);
    return out;
  }

 private:
  std::optional<std::filesystem::path> path(Section& section, std::string_view key) {
    return section.path(key, folder_);
  }

  std::filesystem::path file(Section& section, std::string_view key) {
    return section.file(key, folder_);
  }

  /// The name of the preset that the destination is filled in from; "" for none.
  std::string presetOf(Section& section) {
    std::string name = section.text("preset").value_or("");
    if (name.empty()) return name;
    if (section.has("path")) {
      section.fault("preset", "Presets are for servers", "Leave it out for a folder.");
      return {};
    }
    if (presets_.contains(name)) return name;
    std::vector<std::string> names;
    std::string all;
    for (const auto& [each, settings] : presets_) {
      names.push_back(each);
      all += (all.empty() ? "" : ", ") + each;
    }
    const std::string_view close = nearest(name, names);
    section.fault(
        "preset", "There is no preset " + std::string(shortened(name, 60)),
        close.empty() ? "There are: " + all + "." : "Did you mean " + std::string(close) + "?");
    return {};
  }

  void takeOutbox(Section& section, Config& out) {
    out.keyFile = path(section, "key_file").value_or(std::filesystem::path{});
    out.keepDelivered = std::chrono::hours(24 * section.whole("keep_days", 0, 36'500).value_or(30));
    out.maxBytes =
        static_cast<std::uint64_t>(section.whole("max_megabytes", 1, 1'000'000).value_or(0)) << 20U;
    section.refuseUnknown();
  }

  void takeServer(Section& section, Server& out) {
    if (!section.has("base")) {
      section.fault("", "A destination of kind \"server\" needs base", "Its address, https://...");
    }
    out.base = section.text("base").value_or("");
    if (out.base.find_first_of("?#") != std::string::npos) {
      section.fault("base", "base has a query or a fragment", "End it with the path, .../fhir.");
    }
    while (out.base.ends_with('/')) out.base.pop_back();
    out.strategy = static_cast<Strategy>(section.choice("strategy", kStrategies).value_or(0));
    out.identity =
        static_cast<Identity>(section.choice("identity", {"check", "trust"}).value_or(0));
    if (out.patientBy == PatientBy::Found && out.identity == Identity::Trust) {
      section.fault("identity", "patient = \"search\" compares the patient who was found",
                    "Leave identity out, or take patient = \"conditional\".");
    }
    out.readBack = static_cast<ReadBack>(
        section.choice("read_back", {"always", "sample", "never"}).value_or(0));
    out.gzip =
        static_cast<Gzip>(section.choice("gzip", {"never", "when-offered", "always"}).value_or(0));
    out.connections = static_cast<int>(section.whole("connections", 1, 64).value_or(8));
    out.connectTime =
        milliseconds(section.whole("connect_milliseconds", 10, 600'000).value_or(5'000));
    out.totalTime =
        milliseconds(section.whole("timeout_milliseconds", 10, 3'600'000).value_or(60'000));
    for (const std::int64_t each : section.wholes("backoff_milliseconds", 1, 86'400'000)) {
      out.backOff.emplace_back(each);
    }
    out.caFile = file(section, "ca_file");
    out.bearerFile = section.secret("bearer_file", folder_);
    if (section.has("auth")) takeAuth(section.table("auth"), out);
    out.certificateFile = file(section, "certificate_file");
    out.certificateKeyFile = section.secret("certificate_key_file", folder_);
    if (out.certificateFile.empty() != out.certificateKeyFile.empty()) {
      section.fault("", "certificate_file and certificate_key_file belong together",
                    "Give both or none.");
    }
  }

  void takeAuth(Section section, Server& out) {
    Auth& auth = out.auth;
    auth.client = section.text("client").value_or("");
    auth.keys = path(section, "keys").value_or(std::filesystem::path{});
    auth.secretFile = section.secret("secret_file", folder_);
    auth.secretIn =
        static_cast<SecretIn>(section.choice("secret_in", {"header", "body"}).value_or(0));
    if (const auto at = section.choice("algorithm", {"RS384", "ES384", "RS512"})) {
      auth.algorithm = static_cast<Algorithm>(*at);
    }
    auth.tokenUrl = section.text("token_url").value_or("");
    auth.audience = section.text("audience").value_or("");
    auth.scopes = section.text("scopes").value_or(std::string(kScopes));
    section.refuseUnknown();
    if (auth.client.empty()) {
      section.fault("", "auth needs client", "The name under which this program is registered.");
    }
    if (auth.keys.empty() == auth.secretFile.empty()) {
      section.fault("", "auth needs either keys or secret_file",
                    "Keys are the safer way: footbridge keys new --dir DIR.");
    }
    if (!out.bearerFile.empty()) {
      section.fault("", "auth and bearer_file exclude each other", "Give one of them.");
    }
  }

  /// Whether there is such a realm is seen when the tables are there.
  void takeShape(Section& section, Shape& out) {
    static const std::vector<std::string> kProfiles{"none", "ours", "checked", "all"};
    static const std::vector<std::string> kReleases{"4.0", "4.3", "5.0"};
    out.realm = section.text("realm").value_or("");
    if (const auto profiles = section.choice("profiles", kProfiles)) {
      out.profiles = kProfiles[*profiles];
    }
    if (const auto release = section.choice("fhir", kReleases)) out.fhir = kReleases[*release];
  }

  /// "search" is a bundle with conditions that are replaced when it is sent.
  static void takePatient(Section& section, Destination& out) {
    static const std::vector<std::string> kPatients{"conditional", "logical", "create", "search"};
    const auto patient = section.choice("patient", kPatients);
    if (!patient) return;
    const bool search = kPatients[*patient] == "search";
    out.patient = search ? "conditional" : kPatients[*patient];
    if (!search) return;
    out.server.patientBy = PatientBy::Found;
    if (section.has("path")) {
      section.fault("patient", "Only a server can be searched for the patient",
                    "For a folder take conditional, logical or create.");
    }
  }

  Destination destination(const std::string& name, Section& section) {
    Destination out;
    out.name = name;
    if (!section.has("kind")) {
      section.fault("", "A destination needs a kind", "kind = \"server\" or kind = \"folder\".");
    }
    const std::optional<std::size_t> kind = section.choice("kind", {"folder", "server"});
    out.kind = kind == 1U ? Kind::Server : Kind::Folder;
    takePatient(section, out);
    takeShape(section, out.shape);
    if (!kind) return out;  // which keys belong to it cannot be said
    if (out.kind == Kind::Server) {
      takeServer(section, out.server);
    } else {
      if (!section.has("path")) {
        section.fault("", "A destination of kind \"folder\" needs path", "The folder to write to.");
      }
      out.folder.path = path(section, "path").value_or(std::filesystem::path{});
      out.folder.ndjson = section.flag("ndjson").value_or(false);
    }
    section.refuseUnknown();
    return out;
  }

  const std::filesystem::path& folder_;
  const Presets& presets_;
};

}  // namespace

const Destination* Config::find(std::string_view name) const {
  const auto found = std::find_if(destinations.begin(), destinations.end(),
                                  [name](const Destination& each) { return each.name == name; });
  return found == destinations.end() ? nullptr : &*found;
}

Config defaults() {
  Config out;
  out.destinations.push_back(
      {"folder", Kind::Folder, {}, {out.data / "delivered", false}, "", "", {}});
  return out;
}

Result<Config> parse(std::string_view text, const std::filesystem::path& folder,
                     const Presets& presets) {
  const Result<json::Value> document = json::readToml(text);
  if (!document) return document.issues();
  Issues issues;
  Config out = Loader(folder, presets).config({*document, "", issues});
  if (blocking(issues)) return issues;
  return out;
}

Result<Config> load(const std::filesystem::path& file, const Presets& presets) {
  const Result<std::string> text = readFile(file);
  if (!text) return text.issues();
  return parse(*text, file.parent_path(), presets);
}

}  // namespace footbridge::config
