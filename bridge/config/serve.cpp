#include "config/serve.hpp"

#include <arpa/inet.h>

#include <algorithm>

#include "core/text.hpp"

namespace footbridge::config {
namespace {

using std::chrono::milliseconds;

bool loopback(const std::string& address) {
  return address == "::1" || address.starts_with("127.");
}

bool isAddress(const std::string& text) {
  in6_addr out{};  // takes either kind
  return ::inet_pton(AF_INET, text.c_str(), &out) == 1 ||
         ::inet_pton(AF_INET6, text.c_str(), &out) == 1;
}

/// What may be reached from elsewhere needs both; there is no switch to turn that off.
void checkAccess(Section& section, const Serve& serve) {
  if (!isAddress(serve.address)) {
    section.fault("address", "address has to be an address, not a name",
                  "127.0.0.1 for this machine only, 0.0.0.0 for every network it is in.");
    return;
  }
  if (loopback(serve.address)) return;
  if (serve.certificateFile.empty()) {
    section.fault("address", "An address that others can reach needs TLS",
                  "Set certificate_file and certificate_key_file, or listen at 127.0.0.1.");
  }
  if (serve.tokensFile.empty()) {
    section.fault("address", "An address that others can reach needs tokens",
                  "Make one with `footbridge tokens new` and set tokens_file, or listen at "
                  "127.0.0.1.");
  }
}

void takeFiles(Section& section, const std::filesystem::path& folder, Serve& out) {
  out.certificateFile = section.file("certificate_file", folder);
  out.certificateKeyFile = section.file("certificate_key_file", folder);
  out.clientCaFile = section.file("client_ca_file", folder);
  // `tokens new` makes this one, so that it need not be there yet.
  out.tokensFile = section.path("tokens_file", folder).value_or(std::filesystem::path{});
  out.portFile = section.path("port_file", folder).value_or(std::filesystem::path{});
  if (out.certificateFile.empty() != out.certificateKeyFile.empty()) {
    section.fault("", "certificate_file and certificate_key_file belong together",
                  "Give both or none.");
  }
  if (!out.clientCaFile.empty() && out.certificateFile.empty()) {
    section.fault("client_ca_file", "Certificates of clients are asked for by TLS only",
                  "Set certificate_file and certificate_key_file as well.");
  }
}

void takeLimits(Section& section, Serve& out) {
  const auto time = [&section](std::string_view key, milliseconds otherwise) {
    return milliseconds(section.whole(key, 100, 3'600'000).value_or(otherwise.count()));
  };
  out.headerTime = time("header_milliseconds", out.headerTime);
  out.bodyTime = time("body_milliseconds", out.bodyTime);
  out.idleTime = time("idle_milliseconds", out.idleTime);
  out.stopTime = time("stop_milliseconds", out.stopTime);
  out.maxBody = static_cast<std::uint64_t>(section.whole("max_megabytes", 1, 64).value_or(16))
                << 20U;
  out.connections =
      static_cast<std::size_t>(section.whole("connections", 1, 100'000).value_or(4'096));
}

void takeAlarms(Section section, Serve& out) {
  const auto minutes = [&section](std::string_view key, std::chrono::seconds otherwise) {
    const std::int64_t usual = otherwise.count() / 60;
    return std::chrono::minutes(section.whole(key, 0, 525'600).value_or(usual));
  };
  out.silence = minutes("silence_minutes", out.silence);
  out.undelivered = minutes("undelivered_minutes", out.undelivered);
  out.certificateDays = static_cast<int>(section.whole("certificate_days", 0, 365).value_or(30));
  section.refuseUnknown();
}

WatchedFolder takeFolder(Section section, const std::string& name,
                         const std::filesystem::path& base, const Serve& so) {
  WatchedFolder out;
  out.name = name;
  out.path = section.path("path", base).value_or(std::filesystem::path{});
  if (out.path.empty()) {
    section.fault("path", "A watched folder needs a path", "Say where the files are put.");
  }
  out.done = section.path("done", base).value_or(out.path / "done");
  out.setAside = section.path("set_aside", base).value_or(out.path / "set-aside");
  const auto format = section.choice("format", {"json", "ndjson", "csv"});
  out.format = static_cast<FileFormat>(format.value_or(0));
  out.map = section.text("map").value_or("");
  const auto known = [&out](const auto& map) { return map.first == out.map; };
  if (out.format != FileFormat::Table && !out.map.empty()) {
    section.fault("map", "Only tables have a source map",
                  "Leave map out, or set format = \"csv\".");
  } else if (out.format == FileFormat::Table &&
             std::none_of(so.maps.begin(), so.maps.end(), known)) {
    section.fault("map", "Tables need a source map of [serve.maps]",
                  "Set map to one of the names there.");
  }
  const auto time = [&section](std::string_view key, std::chrono::seconds otherwise) {
    return std::chrono::seconds(section.whole(key, 0, 3'600).value_or(otherwise.count()));
  };
  out.settle = time("settle_seconds", out.settle);
  out.poll = std::max(time("poll_seconds", out.poll), std::chrono::seconds(1));
  section.refuseUnknown();
  return out;
}

void takeFolders(Section section, const std::filesystem::path& base, Serve& out) {
  for (const std::string& name : section.tables()) {
    out.folders.push_back(takeFolder(section.table(name), name, base, out));
    const WatchedFolder& added = out.folders.back();
    const auto same = [&added](const WatchedFolder& each) {
      return each.path.lexically_normal() == added.path.lexically_normal();
    };
    if (std::count_if(out.folders.begin(), out.folders.end(), same) > 1) {
      section.fault(name, "Two watched folders have one path", "Give each a path of its own.");
    }
  }
  section.refuseUnknown();
}

}  // namespace

Serve takeServe(Section& section, const std::filesystem::path& folder, const Config& so) {
  Serve out;
  out.address = section.text("address").value_or(out.address);
  out.port = static_cast<std::uint16_t>(section.whole("port", 0, 65'535).value_or(out.port));
  out.ruleSet = section.text("rules").value_or(out.ruleSet);
  out.to = section.texts("to");
  for (const std::string& name : out.to) {
    if (so.find(name) != nullptr) continue;
    section.fault("to", "There is no destination \"" + printable(name) + "\"",
                  "Name those that stand below [destinations], or leave `to` out for all.");
  }
  takeFiles(section, folder, out);
  takeLimits(section, out);
  takeAlarms(section.table("alarms"), out);
  Section maps = section.table("maps");
  for (const std::string& name : maps.names()) {
    out.maps.emplace_back(name, maps.file(name, folder));
  }
  maps.refuseUnknown();
  takeFolders(section.table("folders"), folder, out);
  section.refuseUnknown();
  checkAccess(section, out);
  return out;
}

}  // namespace footbridge::config
