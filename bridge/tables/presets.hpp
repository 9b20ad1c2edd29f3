#pragma once
// Rows of presets.json: settings of destinations for kinds of record servers.

#include <string>
#include <vector>

#include "json/value.hpp"

namespace footbridge {

/// One kind of server.
struct PresetRow {
  std::string id;
  std::string about;     ///< how such a server behaves; whole sentences
  json::Value settings;  ///< keys of a destination, as in the configuration
  std::vector<std::string>
      needs;  ///< what its statement lists, in the words of deliver::word(Need)
  std::vector<std::string> lacks;  ///< and does not; both empty: a statement cannot tell
};

}  // namespace footbridge
