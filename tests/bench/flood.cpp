// A client that hands in very many assessments and reads every answer.
//
//   flood http|mllp PORT TEMPLATE NAME FIRST COUNT CONNECTIONS [LINES]
//
// TEMPLATE is a file in which @ID@ stands for NAME and a number from FIRST on. By HTTP one request
// holds LINES of them (NDJSON; without LINES one as JSON). Each connection sends its next one when
// it was answered. Prints seconds and how many were stored; ends with 1 unless that is all of them.

#include <arpa/inet.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>
#include <vector>

namespace {

struct Plan {
  bool http;
  std::vector<std::string> pieces;
  std::string name;
  std::size_t next;
  std::size_t end;
  std::size_t lines;
  bool list;  ///< NDJSON, even if it is one line
};

struct Connection {
  int fd;
  std::size_t asked = 0;  ///< assessments in what was sent last
  std::string in = {};
};

int connectTo(std::uint16_t port) {
  const int fd = ::socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(port);
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  if (::connect(fd, reinterpret_cast<sockaddr*>(&address), sizeof address) != 0) return -1;
  const int on = 1;
  ::setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
  return fd;
}

std::vector<std::string> cut(std::string_view text) {
  constexpr std::string_view kMark = "@ID@";
  std::vector<std::string> out;
  for (std::size_t at = text.find(kMark); at != std::string_view::npos; at = text.find(kMark)) {
    out.emplace_back(text.substr(0, at));
    text.remove_prefix(at + kMark.size());
  }
  out.emplace_back(text);
  return out;
}

void appendNext(std::string& out, Plan& plan) {
  const std::string id = plan.name + std::to_string(plan.next++);
  for (std::size_t i = 0; i < plan.pieces.size(); ++i) {
    if (i > 0) out += id;
    out += plan.pieces[i];
  }
}

/// False if there is nothing more to send, or it could not be sent.
bool ask(Connection& connection, Plan& plan) {
  connection.asked = 0;
  std::string body;
  while (plan.next < plan.end && connection.asked < plan.lines) {
    if (!plan.http) body += '\x0b';
    appendNext(body, plan);
    body += plan.http ? "\n" : "\x1c\r";
    ++connection.asked;
  }
  if (connection.asked == 0) return false;
  std::string out;
  if (plan.http) {
    out = "POST /assessments HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/";
    out += plan.list ? "x-ndjson" : "json";
    out += "\r\nContent-Length: " + std::to_string(body.size()) + "\r\n\r\n";
  }
  out += body;
  return ::send(connection.fd, out.data(), out.size(), MSG_NOSIGNAL) ==
         static_cast<ssize_t>(out.size());
}

/// Bytes of the answer at the beginning of `in`, 0 if it is not whole.
std::size_t answerLength(std::string_view in, bool http) {
  if (!http) {
    const std::size_t end = in.find("\x1c\r");
    return end == std::string_view::npos ? 0 : end + 2;
  }
  const std::size_t head = in.find("\r\n\r\n");
  const std::size_t field = in.find("Content-Length: ");
  if (head == std::string_view::npos || field > head) return 0;
  const std::size_t all = head + 4 + std::stoul(std::string(in.substr(field + 16, 12)));
  return in.size() < all ? 0 : all;
}

bool stored(std::string_view answer, bool http) {
  return http ? answer.starts_with("HTTP/1.1 201") : answer.find("MSA|AA") != std::string::npos;
}

/// How many the answer says are stored; nothing is said while it is not whole. -1: it ended.
int take(Connection& connection, const Plan& plan) {
  static std::vector<char> bytes(1U << 18U);
  const ssize_t got = ::recv(connection.fd, bytes.data(), bytes.size(), 0);
  if (got <= 0) return -1;
  connection.in.append(bytes.data(), static_cast<std::size_t>(got));
  const std::size_t length = answerLength(connection.in, plan.http);
  if (length == 0) return 0;
  const std::string_view answer = std::string_view(connection.in).substr(0, length);
  const bool good = stored(answer, plan.http);
  if (!good) std::fprintf(stderr, "%.*s\n", static_cast<int>(answer.size()), answer.data());
  connection.in.erase(0, length);
  return good ? static_cast<int>(connection.asked) : -1;
}

std::size_t run(std::vector<Connection>& connections, Plan& plan) {
  std::size_t good = 0;
  while (!connections.empty()) {
    std::vector<pollfd> asked;
    for (const Connection& each : connections) asked.push_back({each.fd, POLLIN, 0});
    if (::poll(asked.data(), asked.size(), 60'000) <= 0) return good;
    for (std::size_t i = connections.size(); i-- > 0;) {
      if (asked[i].revents == 0) continue;
      const int more = take(connections[i], plan);
      if (more > 0) good += static_cast<std::size_t>(more);
      if (more == 0 || (more > 0 && ask(connections[i], plan))) continue;
      ::close(connections[i].fd);
      connections.erase(connections.begin() + static_cast<std::ptrdiff_t>(i));
    }
  }
  return good;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 8) return 2;
  std::ifstream file(argv[3], std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  const std::size_t first = std::stoul(argv[5]);
  const std::size_t count = std::stoul(argv[6]);
  Plan plan{
      std::string_view(argv[1]) == "http", cut(text), argv[4], first, first + count, 1, argc > 8};
  if (plan.list) plan.lines = std::stoul(argv[8]);
  std::vector<Connection> connections;
  const auto began = std::chrono::steady_clock::now();
  for (std::size_t i = std::stoul(argv[7]); i > 0; --i) {
    Connection connection{connectTo(static_cast<std::uint16_t>(std::stoul(argv[2])))};
    if (connection.fd < 0) return 1;
    if (ask(connection, plan)) connections.push_back(connection);
  }
  const std::size_t good = run(connections, plan);
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - began;
  std::printf("%.6f %zu\n", took.count(), good);
  return good == count ? 0 : 1;
}
