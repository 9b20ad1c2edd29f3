#include "serve/wire.hpp"

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/write.hpp>
#include <unordered_map>
#include <variant>
#include <vector>

#include "serve/session.hpp"
#include "serve/tls.hpp"

namespace footbridge::serve {
namespace {

namespace net = boost::asio;
using boost::system::error_code;
using net::ip::tcp;
using Local = net::local::stream_protocol;
using std::chrono::milliseconds;

constexpr milliseconds kTick{50};  ///< between looks at all deadlines
constexpr std::size_t kMostThrownAway = 64U << 20U;

struct Door {
  Endpoint endpoint;
  std::variant<tcp::acceptor, Local::acceptor> acceptor;
  std::unique_ptr<net::ssl::context> tls;
  bool paused = false;  ///< accepts nothing until the next tick
};

Issue cannotListen(const std::string& where, const error_code& error) {
  return {Severity::Fatal,
          IssueType::Value,
          "serve",
          "",
          "Cannot listen at " + where + ": " + error.message() + ".",
          "Another program may have the address; a port below 1024 needs rights."};
}

}  // namespace

struct Wire::State {
  WireLimits limits;
  net::io_context context{1};
  net::steady_timer timer{context};
  std::vector<std::unique_ptr<Door>> doors;
  std::unordered_map<ConnectionId, std::unique_ptr<Session>> sessions;
  ConnectionId last = 0;
  bool stopping = false;
  Steady::time_point cutOff = kNever;
  std::atomic<std::size_t> count = 0;
  std::atomic<std::size_t> faults = 0;
  std::atomic<Steady::rep> beat = 0;

  explicit State(const WireLimits& bounds) : limits(bounds) {}

  void accept(Door& door);
  template <class Socket>
  void accepted(Door& door, const error_code& error, Socket socket, std::string address);
  bool makeRoom();
  void greet(Session& session, const Greet& greet);
  void apply(Session& session, Step step);
  void read(Session& session);
  void write(Session& session);
  void wrote(Session& session);
  void end(Session& session);
  void drain(Session& session);
  void drop(Session& session);
  void cut(Session& session);
  void tick();
  void lookAt(Session& session, Steady::time_point now);
};

void Wire::State::accept(Door& door) {
  const auto listen = [&](auto& acceptor) {
    using Acceptor = std::decay_t<decltype(acceptor)>;
    using Socket = typename Acceptor::protocol_type::socket;
    if (!acceptor.is_open()) return;
    acceptor.async_accept([this, &door](const error_code& error, Socket socket) {
      std::string address = "local";
      error_code ignored;
      if constexpr (std::is_same_v<Socket, tcp::socket>) {
        if (!error) {
          socket.set_option(tcp::no_delay(true), ignored);
          address = socket.remote_endpoint(ignored).address().to_string();
        }
      }
      accepted(door, error, std::move(socket), std::move(address));
    });
  };
  std::visit(listen, door.acceptor);
}

template <class Socket>
void Wire::State::accepted(Door& door, const error_code& error, Socket socket,
                           std::string address) {
  if (stopping || error == net::error::operation_aborted) return;
  // Out of descriptors, or no room: the next try is at the next tick, not at once.
  if (error || !makeRoom()) {
    door.paused = true;
    return;
  }
  Plain plain(std::move(socket));
  const bool local = !door.endpoint.socket.empty();
  auto session = std::make_unique<Session>(
      Session{++last, std::variant<Plain, Tls>(std::in_place_type<Plain>, std::move(plain)),
              Peer{std::move(address), local, ""}});
  Session& s = *session;
  sessions.emplace(s.id, std::move(session));
  count = sessions.size();
  accept(door);
  if (!door.tls) return greet(s, door.endpoint.greet);
  Plain under = std::move(std::get<Plain>(s.stream));
  Tls& tls = s.stream.emplace<Tls>(std::move(under), *door.tls);
  s.deadline = Steady::now() + limits.handshake;
  s.pending = true;
  tls.async_handshake(net::ssl::stream_base::server, [this, &s, &door](const error_code& failed) {
    s.pending = false;
    if (failed) return drop(s);
    s.peer.subject = peerSubject(std::get<Tls>(s.stream).native_handle());
    greet(s, door.endpoint.greet);
  });
}

/// Where all places are taken one connection goes; those that were heard and are at work stay.
bool Wire::State::makeRoom() {
  if (sessions.size() < limits.connections) return true;
  Session* first = nullptr;
  auto lowest = std::pair(Standing::Needed, kNever);
  for (const auto& [id, session] : sessions) {
    const auto standing = standingOf(*session);
    if (standing >= lowest) continue;
    lowest = standing;
    first = session.get();
  }
  if (first == nullptr) return false;
  cut(*first);
  return true;
}

void Wire::State::greet(Session& session, const Greet& greet) {
  session.talk = greet(session.id, session.peer);
  apply(session, session.talk->take({}));
}

void Wire::State::apply(Session& session, Step step) {
  using Kind = Step::Kind;
  switch (step.kind) {
    case Kind::Read:
    case Kind::Idle:
      if (step.kind == Kind::Idle && stopping) return end(session);
      session.phase = step.kind == Kind::Idle ? Phase::Idle : Phase::Busy;
      session.deadline = step.until;
      return read(session);
    case Kind::Write:
      session.out = std::move(step.bytes);
      session.phase = Phase::Delayed;
      session.deadline = step.until;
      if (step.until <= Steady::now()) write(session);
      return;
    case Kind::Wait:
      session.phase = Phase::Waiting;
      session.deadline = kNever;
      return;
    case Kind::Close:
      return end(session);
  }
}

void Wire::State::read(Session& session) {
  session.pending = true;
  const auto start = [&](auto& stream) {
    stream.async_read_some(net::buffer(session.in),
                           [this, &session](const error_code& error, std::size_t size) {
                             session.pending = false;
                             if (error) return drop(session);
                             apply(session, session.talk->take({session.in.data(), size}));
                           });
  };
  std::visit(start, session.stream);
}

void Wire::State::write(Session& session) {
  session.phase = Phase::Busy;
  session.answered = true;
  session.deadline = Steady::now() + limits.write;
  session.pending = true;
  const auto start = [&](auto& stream) {
    net::async_write(stream, net::buffer(session.out),
                     [this, &session](const error_code& error, std::size_t) {
                       session.pending = false;
                       if (error) return drop(session);
                       wrote(session);
                     });
  };
  std::visit(start, session.stream);
}

void Wire::State::wrote(Session& session) {
  session.out.clear();
  if (session.out.capacity() > 4 * kPiece) std::string().swap(session.out);
  apply(session, session.talk->written());
}

/// Closing at once with unread input resets the connection, and the client may lose the answer.
void Wire::State::end(Session& session) {
  session.phase = Phase::Ending;
  session.deadline = Steady::now() + limits.linger;
  error_code ignored;
  session.socket().shutdown(net::socket_base::shutdown_send, ignored);
  drain(session);
}

void Wire::State::drain(Session& session) {
  session.pending = true;
  session.socket().async_read_some(net::buffer(session.in),
                                   [this, &session](const error_code& error, std::size_t size) {
                                     session.pending = false;
                                     session.thrownAway += size;
                                     if (error || session.thrownAway > kMostThrownAway)
                                       return drop(session);
                                     drain(session);
                                   });
}

void Wire::State::drop(Session& session) {
  sessions.erase(session.id);
  count = sessions.size();
}

/// Ends a connection from outside of its own handlers.
void Wire::State::cut(Session& session) {
  if (!session.pending) return drop(session);
  error_code ignored;
  session.phase = Phase::Ending;
  session.deadline = kNever;
  session.socket().close(ignored);
}

void Wire::State::lookAt(Session& session, Steady::time_point now) {
  const bool idleAtStop = stopping && session.phase == Phase::Idle;
  if (now >= cutOff || idleAtStop) return cut(session);
  if (now < session.deadline) return;
  if (session.phase == Phase::Delayed) return write(session);
  cut(session);
}

void Wire::State::tick() {
  const Steady::time_point now = Steady::now();
  beat = now.time_since_epoch().count();
  std::vector<Session*> all;
  all.reserve(sessions.size());
  for (const auto& [id, session] : sessions) all.push_back(session.get());
  for (Session* session : all) lookAt(*session, now);
  for (const std::unique_ptr<Door>& door : doors) {
    if (door->paused && !stopping) {
      door->paused = false;
      accept(*door);
    }
  }
  if (stopping && sessions.empty()) return;
  timer.expires_after(kTick);
  timer.async_wait([this](const error_code& error) {
    if (!error) tick();
  });
}

Wire::Wire(const WireLimits& limits) : state_(std::make_unique<State>(limits)) {}

Wire::~Wire() = default;

Result<std::uint16_t> Wire::listen(Endpoint endpoint) {
  net::io_context& context = state_->context;
  error_code error;
  auto door = std::make_unique<Door>(Door{endpoint, tcp::acceptor(context), nullptr});
  if (endpoint.tls) {
    auto tls = tlsContext(*endpoint.tls);
    if (!tls) return std::move(tls).issues();
    door->tls = *std::move(tls);
  }
  const auto open = [&](auto& acceptor, const auto& at) {
    acceptor.open(at.protocol(), error);
    if (!error) acceptor.set_option(net::socket_base::reuse_address(true), error);
    if (!error) acceptor.bind(at, error);
    if (!error) acceptor.listen(net::socket_base::max_listen_connections, error);
  };
  std::uint16_t port = 0;
  std::string where = endpoint.socket.string();
  if (endpoint.socket.empty()) {
    where = endpoint.address + ":" + std::to_string(endpoint.port);
    const auto address = net::ip::make_address(endpoint.address, error);
    auto& acceptor = std::get<tcp::acceptor>(door->acceptor);
    if (!error) open(acceptor, tcp::endpoint(address, endpoint.port));
    if (!error) port = acceptor.local_endpoint(error).port();
  } else {
    std::error_code ignored;
    std::filesystem::remove(endpoint.socket, ignored);  // one that a crash left behind
    open(door->acceptor.emplace<Local::acceptor>(context), Local::endpoint(where));
  }
  if (error) return cannotListen(where, error);
  state_->doors.push_back(std::move(door));
  return port;
}

void Wire::run() {
  for (const std::unique_ptr<Door>& door : state_->doors) state_->accept(*door);
  state_->tick();
  while (true) {
    try {
      state_->context.run();
      return;
    } catch (const std::exception&) {
      // One connection's fault shall not end the others; its deadline closes it.
      ++state_->faults;
    }
  }
}

void Wire::stop(std::chrono::milliseconds grace) {
  net::post(state_->context, [this, grace] {
    State& s = *state_;
    s.stopping = true;
    s.cutOff = Steady::now() + grace;
    error_code ignored;
    for (const std::unique_ptr<Door>& door : s.doors) {
      std::visit([&](auto& acceptor) { acceptor.close(ignored); }, door->acceptor);
    }
  });
}

void Wire::resume(ConnectionId id, std::function<Step()> next) {
  net::post(state_->context, [this, id, next = std::move(next)] {
    const auto found = state_->sessions.find(id);
    if (found == state_->sessions.end() || found->second->phase != Phase::Waiting) return;
    state_->apply(*found->second, next());
  });
}

Issues Wire::renewTls() {
  for (const std::unique_ptr<Door>& door : state_->doors) {
    if (!door->endpoint.tls) continue;
    auto fresh = tlsContext(*door->endpoint.tls);
    if (!fresh) return std::move(fresh).issues();
    net::post(state_->context,
              [to = door.get(), tls = *std::move(fresh)]() mutable { to->tls = std::move(tls); });
  }
  return {};
}

std::size_t Wire::connections() const { return state_->count; }

std::size_t Wire::faults() const { return state_->faults; }

Steady::time_point Wire::heartbeat() const {
  return Steady::time_point(Steady::duration(state_->beat.load()));
}

}  // namespace footbridge::serve
