#pragma once
// Messages of HL7 v2 in frames on a connection (MLLP): taken one after another, each answered
// before the next is looked at.

#include <chrono>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "hl7/mllp.hpp"
#include "serve/wire.hpp"

namespace footbridge::app {

/// Where a message came from, for the trail.
struct Origin {
  serve::Peer peer;
  std::string id;  ///< of connection and message
  serve::Steady::time_point since{};
};

/// One message that came in.
struct Incoming {
  hl7::Deframer::Frame frame;
  Origin from;
};

/// What is behind the frames.
struct MllpSite {
  std::size_t limit = hl7::Deframer::kMessageLimit;
  std::chrono::milliseconds frameTime{30'000};  ///< from the first byte of a frame to its last
  std::chrono::milliseconds idleTime{0};        ///< between messages; 0: no end

  /// Gives the acknowledgements, none perhaps, at once or later, from any thread, exactly once.
  std::function<void(Incoming, std::function<void(std::vector<std::string>)>)> handle;

  /// Is told what was no sound frame: "stray" bytes, "oversized" and "unfinished" frames.
  std::function<void(std::string_view kind, std::size_t more)> strange;

  /// True once no further message shall be taken.
  std::function<bool()> closing;
};

/// What greets connections of the wire. Site and wire have to outlive it.
serve::Greet mllpGreeting(const MllpSite& site, serve::Wire& wire);

}  // namespace footbridge::app
