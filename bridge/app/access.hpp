#pragma once
// What can be asked of the service, and who may ask it.

#include <filesystem>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "serve/http.hpp"
#include "serve/tokens.hpp"

namespace footbridge::app {

/// Everything the service answers. The paths are those of schemas/openapi.json.
enum class Route : std::uint8_t {
  Submit,   ///< POST /assessments
  Find,     ///< GET /assessments?identifier=SYSTEM|VALUE
  Follow,   ///< GET /assessments/{row}
  Bundle,   ///< GET /assessments/{row}/bundle
  Outbox,   ///< GET /outbox
  Retry,    ///< POST /outbox/{row}/retry
  Release,  ///< POST /outbox/{row}/release
  Drop,     ///< POST /outbox/{row}/drop
  Command,  ///< POST /outbox/command: by the socket of this machine only
  Audit,    ///< GET /audit
  Metrics,  ///< GET /metrics
  Openapi,  ///< GET /openapi.json
  Live,     ///< GET /health/live
  Ready     ///< GET /health/ready
};

/// Where a request belongs.
struct Place {
  Route route = Route::Live;
  std::int64_t row = 0;  ///< where the path has one
};

/// The place of a method and path, or the methods that there are for the path ("" if it is none).
struct Found {
  std::optional<Place> place;
  std::string methods;
};
Found findPlace(const std::string& method, const std::string& path);

/// "POST /assessments": how a route stands in trail and journal, whatever the path held.
std::string_view patternOf(Route route);

/// Who may do what. Admits on the thread of the wire; tokens may be renewed by another.
class Access {
 public:
  /// Without a file, everyone who can connect may do everything.
  explicit Access(std::filesystem::path tokensFile) : file_(std::move(tokensFile)) {}

  /// Reads the tokens, again perhaps. With issues the old ones stay.
  Issues renew();

  /// Says no, or fills `head.who`.
  std::optional<serve::Response> admit(serve::Head& head);

 private:
  std::optional<serve::Response> identify(serve::Head& head, Route route);

  std::filesystem::path file_;
  std::mutex mutex_;
  std::vector<serve::Token> tokens_;
  serve::Guard guard_;
};

}  // namespace footbridge::app
