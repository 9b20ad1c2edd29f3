#include "config/wires.hpp"

#include <arpa/inet.h>

#include <algorithm>

#include "core/text.hpp"

namespace footbridge::config {
namespace {

using std::chrono::milliseconds;
using Format = WatchedFolder::Format;

bool isAddress(const std::string& text) {
  in6_addr out{};  // takes either kind
  return ::inet_pton(AF_INET, text.c_str(), &out) == 1 ||
         ::inet_pton(AF_INET6, text.c_str(), &out) == 1;
}

std::string takeMap(Section& section, const Serve& so) {
  std::string out = section.text("map").value_or("");
  const auto named = [&out](const auto& map) { return map.first == out; };
  if (!out.empty() && std::none_of(so.maps.begin(), so.maps.end(), named)) {
    section.fault("map", "There is no source map \"" + printable(out) + "\"",
                  "Name one that stands below [serve.maps].");
  }
  return out;
}

/// Messages carry no token: who may send them is told by certificates.
void checkAccess(Section& section, const Mllp& mllp) {
  if (!reachable(section, mllp.address)) return;
  if (!mllp.certificateFile.empty() && !mllp.clientCaFile.empty()) return;
  section.fault("address",
                "An address that others can reach needs TLS with certificates of the senders",
                "Set certificate_file, certificate_key_file and client_ca_file, or listen at "
                "127.0.0.1.");
}

std::uint64_t megabytes(Section& section, std::int64_t most, std::int64_t otherwise) {
  return static_cast<std::uint64_t>(section.whole("max_megabytes", 1, most).value_or(otherwise))
         << 20U;
}

/// One name for one folder, whatever links and dots lead to it.
std::filesystem::path plain(const std::filesystem::path& path) {
  std::error_code failed;
  std::filesystem::path out = std::filesystem::weakly_canonical(path, failed);
  if (failed) out = path.lexically_normal();
  return out.has_filename() ? out : out.parent_path();
}

/// Files are moved out of the folder by a rename: what is watched and where they go may not be one.
void checkPlaces(Section& section, const WatchedFolder& folder) {
  for (const auto& [key, path] : {std::pair{"done", folder.done}, {"set_aside", folder.setAside}}) {
    if (plain(path) != plain(folder.path)) continue;
    section.fault(key, std::string(key) + " is the watched folder itself",
                  "Name another folder, or leave it out for one below it.");
  }
}

WatchedFolder takeFolder(Section section, const std::string& name,
                         const std::filesystem::path& folder, const Serve& so) {
  WatchedFolder out;
  out.name = name;
  if (const auto path = section.path("path", folder)) {
    out.path = *path;
  } else {
    section.fault("path", "Which folder is watched is not said", "Set path.");
  }
  const auto format = section.choice("format", {"json", "ndjson", "csv", "hl7v2", "fhir"});
  out.format = static_cast<Format>(format.value_or(0));
  out.map = takeMap(section, so);
  if (out.format == Format::Csv && out.map.empty()) {
    section.fault("map", "A table needs a source map", "Name one that stands below [serve.maps].");
  }
  const bool plain = out.format == Format::Json || out.format == Format::Ndjson;
  if (plain && !out.map.empty()) {
    section.fault("map", "JSON needs no source map", "Leave map out, or set format.");
  }
  out.done = section.path("done", folder).value_or(out.path / "done");
  out.setAside = section.path("set_aside", folder).value_or(out.path / "set-aside");
  const auto seconds = [&section](std::string_view key, std::int64_t least, std::int64_t usual) {
    return std::chrono::seconds(section.whole(key, least, 3'600).value_or(usual));
  };
  out.stable = seconds("stable_seconds", 0, 2);
  out.poll = seconds("poll_seconds", 1, 10);
  out.maxBytes = megabytes(section, 64, 16);
  checkPlaces(section, out);
  section.refuseUnknown();
  return out;
}

/// A folder that the configuration names, and for what.
struct Used {
  std::string what;
  std::filesystem::path path;
  std::optional<std::size_t> by = std::nullopt;  ///< the watched folder it belongs to
  bool watched = false;
};

std::vector<Used> usedFolders(const Config& config) {
  std::vector<Used> out;
  for (const Destination& to : config.destinations) {
    const bool folder = to.kind == Kind::Folder && !to.folder.path.empty();
    if (folder) out.push_back({"destinations." + to.name, plain(to.folder.path)});
  }
  for (std::size_t i = 0; i < config.serve.folders.size(); ++i) {
    const WatchedFolder& folder = config.serve.folders[i];
    const std::string name = "serve.folders." + folder.name;
    out.push_back({name, plain(folder.path), i, true});
    out.push_back({"done of " + name, plain(folder.done), i});
    out.push_back({"set_aside of " + name, plain(folder.setAside), i});
  }
  return out;
}

}  // namespace

void takeTls(Section& section, const std::filesystem::path& folder, const TlsPaths& to) {
  to.certificate = section.file("certificate_file", folder);
  to.key = section.secret("certificate_key_file", folder);
  to.clientAuthorities = section.file("client_ca_file", folder);
  if (to.certificate.empty() != to.key.empty()) {
    section.fault("", "certificate_file and certificate_key_file belong together",
                  "Give both or none.");
  }
  if (!to.clientAuthorities.empty() && to.certificate.empty()) {
    section.fault("client_ca_file", "Certificates of clients are asked for by TLS only",
                  "Set certificate_file and certificate_key_file as well.");
  }
}

bool reachable(Section& section, const std::string& address) {
  if (isAddress(address)) return address != "::1" && !address.starts_with("127.");
  section.fault("address", "address has to be an address, not a name",
                "127.0.0.1 for this machine only, 0.0.0.0 for every network it is in.");
  return false;
}

Mllp takeMllp(Section section, const std::filesystem::path& folder, const Serve& so) {
  Mllp out;
  out.address = section.text("address").value_or(out.address);
  out.port = static_cast<std::uint16_t>(section.whole("port", 0, 65'535).value_or(out.port));
  out.portFile = section.path("port_file", folder).value_or(std::filesystem::path{});
  out.map = takeMap(section, so);
  takeTls(section, folder, {out.certificateFile, out.certificateKeyFile, out.clientCaFile});
  out.maxMessage = megabytes(section, 64, 8);
  out.connections = static_cast<std::size_t>(section.whole("connections", 1, 10'000).value_or(256));
  const auto time = [&section](std::string_view key, std::int64_t least, milliseconds otherwise) {
    return milliseconds(section.whole(key, least, 86'400'000).value_or(otherwise.count()));
  };
  out.frameTime = time("frame_milliseconds", 100, out.frameTime);
  out.idleTime = time("idle_milliseconds", 0, out.idleTime);
  out.remember = std::chrono::hours(24 * section.whole("remember_days", 0, 3'650).value_or(30));
  section.refuseUnknown();
  checkAccess(section, out);
  return out;
}

void refuseOverlaps(Section& root, const Config& config) {
  const std::vector<WatchedFolder>& folders = config.serve.folders;
  const std::vector<Used> used = usedFolders(config);
  for (std::size_t i = 0; i < folders.size(); ++i) {
    const std::filesystem::path watched = plain(folders[i].path);
    for (const Used& each : used) {
      // Its own places are told where they stand, and of two that watch one folder the first.
      if (each.path != watched || each.by == i || (each.watched && each.by < i)) continue;
      root.fault("serve/folders/" + folders[i].name,
                 "serve.folders." + folders[i].name + " watches what is also " + each.what + ", " +
                     printable(watched.string()),
                 "Give each a folder of its own: files would be taken twice, or ours for those of "
                 "a sender.");
    }
  }
}

std::vector<WatchedFolder> takeFolders(Section section, const std::filesystem::path& folder,
                                       const Serve& so) {
  std::vector<WatchedFolder> out;
  for (const std::string& name : section.tables()) {
    out.push_back(takeFolder(section.table(name), name, folder, so));
  }
  section.refuseUnknown();
  return out;
}

}  // namespace footbridge::config
