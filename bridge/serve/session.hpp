#pragma once
// One connection of wire.cpp, and which of several goes when room is needed.

#include <array>
#include <boost/asio/generic/stream_protocol.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <cstdint>
#include <memory>
#include <string>
#include <utility>
#include <variant>

#include "serve/wire.hpp"

namespace footbridge::serve {

using Plain = boost::asio::generic::stream_protocol::socket;
using Tls = boost::asio::ssl::stream<Plain>;

inline constexpr std::size_t kPiece = 8U << 10U;  ///< bytes read at a time
inline constexpr auto kNever = Steady::time_point::max();

enum class Phase : std::uint8_t {
  Busy,     ///< a read or write of the talk is under way
  Idle,     ///< a read is under way that nothing depends on
  Delayed,  ///< an answer waits for its time
  Waiting,  ///< for resume()
  Ending    ///< the last was said
};

/// One connection. At most one asynchronous operation is under way on it, and only the handler of
/// that operation destroys it: so no handler finds its connection gone.
struct Session {
  ConnectionId id;
  std::variant<Plain, Tls> stream;
  Peer peer;
  std::unique_ptr<Talk> talk = nullptr;
  Phase phase = Phase::Busy;
  bool pending = false;   ///< an operation is under way
  bool answered = false;  ///< something was said to it
  Steady::time_point since = Steady::now();
  Steady::time_point deadline = kNever;
  std::string out = {};
  std::size_t thrownAway = 0;
  std::array<char, kPiece> in = {};

  Plain& socket() {
    Tls* tls = std::get_if<Tls>(&stream);
    return tls == nullptr ? std::get<Plain>(stream) : tls->next_layer();
  }
};

/// Who goes first where room is needed, and among equals whoever has the earlier moment.
enum class Standing : std::uint8_t {
  Stranger,  ///< has not shown who it is: a handshake is under way
  Idle,      ///< nothing is under way
  Unheard,   ///< has begun something, and was never answered
  Needed
};

inline std::pair<Standing, Steady::time_point> standingOf(const Session& session) {
  const bool busy = session.phase == Phase::Busy;
  if (busy && !session.talk) return {Standing::Stranger, session.since};
  if (session.phase == Phase::Idle) return {Standing::Idle, session.deadline};
  if (busy && !session.answered) return {Standing::Unheard, session.since};
  return {Standing::Needed, kNever};
}

}  // namespace footbridge::serve
