#include "config/serve.hpp"

#include "config/wires.hpp"
#include "core/text.hpp"

namespace footbridge::config {
namespace {

using std::chrono::milliseconds;

/// What may be reached from elsewhere needs both; there is no switch to turn that off.
void checkAccess(Section& section, const Serve& serve) {
  if (!reachable(section, serve.address)) return;
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
  takeTls(section, folder, {out.certificateFile, out.certificateKeyFile, out.clientCaFile});
  // `tokens new` makes this one, so that it need not be there yet.
  out.tokensFile = section.path("tokens_file", folder).value_or(std::filesystem::path{});
  out.portFile = section.path("port_file", folder).value_or(std::filesystem::path{});
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

TrailKeeping takeTrail(Section section) {
  TrailKeeping out;
  out.maxBytes = static_cast<std::uint64_t>(section.whole("max_megabytes", 1, 4'096).value_or(64))
                 << 20U;
  out.monthly = section.flag("monthly").value_or(out.monthly);
  out.keep = std::chrono::days(section.whole("keep_days", 0, 36'500).value_or(0));
  section.refuseUnknown();
  return out;
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
  out.trail = takeTrail(section.table("trail"));
  Section maps = section.table("maps");
  for (const std::string& name : maps.names()) {
    out.maps.emplace_back(name, maps.file(name, folder));
  }
  maps.refuseUnknown();
  if (section.has("mllp")) out.mllp = takeMllp(section.table("mllp"), folder, out);
  out.folders = takeFolders(section.table("folders"), folder, out);
  section.refuseUnknown();
  checkAccess(section, out);
  return out;
}

}  // namespace footbridge::config
