#pragma once
// Connections that others open to us: TCP with or without TLS, and a socket in the file system.
// Knows nothing of what is spoken on them. With session.hpp and tls.cpp the only place that knows
// Asio.

#include <atomic>
#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "core/result.hpp"

namespace footbridge::serve {

using Steady = std::chrono::steady_clock;
using ConnectionId = std::uint64_t;

/// Who is at the other end.
struct Peer {
  std::string address;  ///< "127.0.0.1", or "local" for the socket in the file system
  bool local = false;   ///< came by the socket in the file system
  std::string subject;  ///< of the client's certificate, where one was asked for
};

/// What to do with a connection next.
struct Step {
  enum class Kind : std::uint8_t {
    Read,   ///< take more bytes until `until`
    Idle,   ///< the same, but nothing is under way: may be closed when room or a stop is needed
    Write,  ///< send `bytes`, not before `until`
    Wait,   ///< nothing until Wire::resume()
    Close   ///< what was written shall arrive, what still comes in is thrown away
  };
  Kind kind = Kind::Close;
  std::string bytes;
  Steady::time_point until{};
};

/// One connection's side of a protocol. All calls come from the thread of Wire::run(). This is one
/// of the two edges to the outside world that are interfaces.
class Talk {
 public:
  Talk() = default;
  virtual ~Talk() = default;
  Talk(const Talk&) = delete;
  Talk& operator=(const Talk&) = delete;

  /// Bytes came in; none at all when the connection was just opened.
  virtual Step take(std::string_view bytes) = 0;

  /// Everything of the last Write is on its way.
  virtual Step written() = 0;
};

using Greet = std::function<std::unique_ptr<Talk>(ConnectionId, const Peer&)>;

struct TlsFiles {
  std::filesystem::path certificate;        ///< PEM, the chain
  std::filesystem::path key;                ///< PEM
  std::filesystem::path clientAuthorities;  ///< PEM; empty: no certificate is asked of clients
};

/// Where to listen. Either address and port, or a socket in the file system.
struct Endpoint {
  std::string address;
  std::uint16_t port = 0;  ///< 0: any that is free
  std::filesystem::path socket;
  std::optional<TlsFiles> tls;
  Greet greet;
};

/// Bounds that hold for all connections together and for each.
struct WireLimits {
  std::size_t connections = 4'096;
  std::chrono::milliseconds handshake{10'000};
  std::chrono::milliseconds write{30'000};  ///< for the other side to take an answer
  std::chrono::milliseconds linger{2'000};  ///< after the last answer
};

class Wire {
 public:
  explicit Wire(const WireLimits& limits);
  ~Wire();
  Wire(const Wire&) = delete;
  Wire& operator=(const Wire&) = delete;

  /// Begins to listen; before run(). Gives the port. Issues of type Value if the address or a file
  /// is no good, NoStore if the address cannot be had.
  Result<std::uint16_t> listen(Endpoint endpoint);

  /// Serves until stop() was called and every connection has ended.
  void run();

  /// Takes no more connections, closes idle ones, lets the others finish, and cuts them off after
  /// the grace. By any thread.
  void stop(std::chrono::milliseconds grace);

  /// Goes on with a connection that waits, unless it is gone meanwhile: `next` runs on the thread
  /// of run(). By any thread.
  void resume(ConnectionId id, std::function<Step()> next);

  /// Reads certificates and keys again; connections that are open keep theirs. With issues nothing
  /// was changed. By any thread.
  Issues renewTls();

  std::size_t connections() const;

  /// How often something was thrown while a connection was served: never, in a sound program.
  std::size_t faults() const;

  /// When the thread of run() last showed that it is alive.
  Steady::time_point heartbeat() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace footbridge::serve
