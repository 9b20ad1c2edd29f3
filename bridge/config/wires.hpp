#pragma once
// Further ways into the service: messages over MLLP and watched folders; not for other folders.

#include "config/config.hpp"
#include "config/section.hpp"

namespace footbridge::config {

/// Where the paths of a TLS endpoint go.
struct TlsPaths {
  std::filesystem::path& certificate;
  std::filesystem::path& key;
  std::filesystem::path& clientAuthorities;
};

/// Reads the three keys of certificates; says which belong together.
void takeTls(Section& section, const std::filesystem::path& folder, const TlsPaths& to);

/// True if the address is one, and others than this machine can reach it. Faults what is no
/// address.
bool reachable(Section& section, const std::string& address);

/// Reads [serve.mllp]. `so` holds the source maps already.
Mllp takeMllp(Section section, const std::filesystem::path& folder, const Serve& so);

/// Says which watched folders are also watched by another, or written to by ourselves. The whole of
/// the configuration has been read.
void refuseOverlaps(Section& root, const Config& config);

/// Reads the tables below [serve.folders].
std::vector<WatchedFolder> takeFolders(Section section, const std::filesystem::path& folder,
                                       const Serve& so);

}  // namespace footbridge::config
