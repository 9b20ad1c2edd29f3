#include "support/wire_server.hpp"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <mutex>
#include <thread>

namespace footbridge::test {
namespace {

/// Reads more bytes; false at the end.
bool readMore(int fd, std::string& buffer) {
  char bytes[65536];
  const ssize_t got = ::recv(fd, bytes, sizeof bytes, 0);
  if (got <= 0) return false;
  buffer.append(bytes, static_cast<std::size_t>(got));
  return true;
}

bool sendAll(int fd, const std::string& bytes) {
  std::size_t at = 0;
  while (at < bytes.size()) {
    const ssize_t sent = ::send(fd, bytes.data() + at, bytes.size() - at, MSG_NOSIGNAL);
    if (sent <= 0) return false;
    at += static_cast<std::size_t>(sent);
  }
  return true;
}

std::size_t contentLength(const std::string& head) {
  const std::size_t at = head.find("Content-Length: ");
  return at == std::string::npos ? 0 : std::stoul(head.substr(at + 16));
}

std::string headOf(const WireAnswer& answer) {
  std::string out = "HTTP/1.1 " + std::to_string(answer.status) + " Scripted\r\n";
  for (const std::string& header : answer.headers) out += header + "\r\n";
  return out + "Content-Length: " + std::to_string(answer.body.size()) + "\r\n\r\n";
}

}  // namespace

struct WireServer::State {
  std::vector<WireAnswer> script;
  mutable std::mutex mutex;
  std::size_t next = 0;
  std::vector<WireRequest> requests;
  int busy = 0;
  int most = 0;
  std::atomic<bool> over = false;
  int listener = -1;
  int port = 0;
  std::vector<std::thread> threads;  // of connections; touched by the accepting thread only
  std::vector<int> open;             // guarded by mutex
  std::thread accepting;

  WireAnswer take() {
    const std::scoped_lock lock(mutex);
    if (next < script.size()) return script[next++];
    return {WireAnswer::Kind::Whole, 503, {}, "", 0};
  }

  /// False if the connection is to be closed.
  bool perform(int fd, const WireAnswer& answer) {
    switch (answer.kind) {
      case WireAnswer::Kind::Whole:
        return sendAll(fd, headOf(answer) + answer.body);
      case WireAnswer::Kind::Half:
        sendAll(fd, headOf(answer) + answer.body.substr(0, answer.body.size() / 2));
        return false;
      case WireAnswer::Kind::Slow:
        sendAll(fd, "H");
        for (int i = 0; i < 200 && !over; ++i) {
          std::this_thread::sleep_for(std::chrono::milliseconds(10));
        }
        return false;
      case WireAnswer::Kind::Huge: {
        sendAll(fd, "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n");
        const std::string chunk = "10000\r\n" + std::string(0x10000, 'x') + "\r\n";
        while (!over && sendAll(fd, chunk)) {
        }
        return false;
      }
      default:
        return false;
    }
  }

  bool serveOne(int fd, std::string& buffer) {
    std::size_t end = 0;
    while ((end = buffer.find("\r\n\r\n")) == std::string::npos) {
      if (!readMore(fd, buffer)) return false;
    }
    WireRequest request;
    request.head = buffer.substr(0, end + 2);
    request.method = request.head.substr(0, request.head.find(' '));
    const std::size_t path = request.method.size() + 1;
    request.path = request.head.substr(path, request.head.find(' ', path) - path);
    const WireAnswer answer = take();
    const std::size_t length = contentLength(request.head);
    buffer.erase(0, end + 4);
    const bool reads = answer.kind != WireAnswer::Kind::DropBefore;
    while (reads && buffer.size() < length) {
      if (!readMore(fd, buffer)) return false;
    }
    request.body = buffer.substr(0, length);
    buffer.erase(0, std::min(length, buffer.size()));
    {
      const std::scoped_lock lock(mutex);
      requests.push_back(std::move(request));
      most = std::max(most, ++busy);
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(answer.delayMs));
    {
      // Before the answer: the next request may be here on another connection right after it.
      const std::scoped_lock lock(mutex);
      --busy;
    }
    return perform(fd, answer);
  }

  void serve(int fd) {
    std::string buffer;
    while (serveOne(fd, buffer)) {
    }
    const std::scoped_lock lock(mutex);
    open.erase(std::find(open.begin(), open.end(), fd));
    ::close(fd);
  }

  void accept() {
    while (true) {
      const int fd = ::accept(listener, nullptr, nullptr);
      if (fd < 0) return;
      {
        const std::scoped_lock lock(mutex);
        open.push_back(fd);
      }
      threads.emplace_back([this, fd] { serve(fd); });
    }
  }
};

WireServer::WireServer(std::vector<WireAnswer> script) : state_(std::make_unique<State>()) {
  state_->script = std::move(script);
  state_->listener = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  auto* const any = static_cast<sockaddr*>(static_cast<void*>(&address));
  socklen_t size = sizeof address;
  ::bind(state_->listener, any, size);
  ::listen(state_->listener, 64);
  ::getsockname(state_->listener, any, &size);
  state_->port = ntohs(address.sin_port);
  state_->accepting = std::thread([this] { state_->accept(); });
}

WireServer::~WireServer() {
  state_->over = true;
  ::shutdown(state_->listener, SHUT_RDWR);
  state_->accepting.join();
  {
    const std::scoped_lock lock(state_->mutex);
    for (const int fd : state_->open) ::shutdown(fd, SHUT_RDWR);
  }
  for (std::thread& thread : state_->threads) thread.join();
  ::close(state_->listener);
}

int WireServer::port() const { return state_->port; }

std::vector<WireRequest> WireServer::requests() const {
  const std::scoped_lock lock(state_->mutex);
  return state_->requests;
}

int WireServer::mostAtOnce() const {
  const std::scoped_lock lock(state_->mutex);
  return state_->most;
}

std::string responseBundle(const std::string& type, const std::vector<int>& statuses) {
  std::string out = R"({"resourceType":"Bundle","type":")" + type + R"(","entry":[)";
  for (std::size_t i = 0; i < statuses.size(); ++i) {
    const bool good = statuses[i] < 300;
    out += i > 0 ? "," : "";
    out += R"({"response":{"status":")" + std::to_string(statuses[i]) + R"( Said")";
    if (good) out += R"(,"location":"Observation/)" + std::to_string(i) + R"(/_history/1")";
    if (!good) {
      out += R"(,"outcome":{"resourceType":"OperationOutcome","issue":[{"severity":"error",)";
      out += R"("code":"invalid","diagnostics":"entry went wrong"}]})";
    }
    out += "}}";
  }
  return out + "]}";
}

WireAnswer storedAnswer(int status) {
  return {WireAnswer::Kind::Whole, 200, {}, responseBundle("transaction-response", {status}), 0};
}

}  // namespace footbridge::test
