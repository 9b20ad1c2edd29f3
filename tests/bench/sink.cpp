// A record server that stores nothing: reads a bundle, answers 201 for each of its entries.
//
//   sink PORT_FILE
//
// One thread, so that it stands for a server on another machine with a core of its own.

#include <arpa/inet.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <fstream>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

namespace {

struct Connection {
  int fd;
  std::string in;
  std::size_t head = 0;    // bytes of the head, 0 while it is not complete
  std::size_t length = 0;  // of the body
};

std::string answerTo(std::string_view body) {
  constexpr std::string_view kMark = "\"request\":{\"method\":\"";
  std::string out = R"({"resourceType":"Bundle","type":"transaction-response","entry":[)";
  static const std::boyer_moore_horspool_searcher kSearch(kMark.begin(), kMark.end());
  for (auto at = std::search(body.begin(), body.end(), kSearch); at != body.end();
       at = std::search(at + kMark.size(), body.end(), kSearch)) {
    out += R"({"response":{"status":"201 Created","location":"Observation/1/_history/1"}},)";
  }
  if (out.back() == ',') out.pop_back();
  out += "]}";
  return "HTTP/1.1 200 OK\r\nContent-Type: application/fhir+json\r\nContent-Length: " +
         std::to_string(out.size()) + "\r\n\r\n" + out;
}

bool complete(Connection& c) {
  if (c.head == 0) {
    const std::size_t end = c.in.find("\r\n\r\n");
    if (end == std::string::npos) return false;
    c.head = end + 4;
    const std::size_t at = c.in.find("Content-Length: ");
    c.length = at < end ? std::stoul(c.in.substr(at + 16, 12)) : 0;
    c.in.reserve(c.head + c.length);
  }
  return c.in.size() >= c.head + c.length;
}

bool serve(Connection& c) {
  static std::vector<char> bytes(1U << 20U);
  const ssize_t got = ::recv(c.fd, bytes.data(), bytes.size(), 0);
  if (got <= 0) return false;
  c.in.append(bytes.data(), static_cast<std::size_t>(got));
  if (!complete(c)) return true;
  const std::string out = answerTo(std::string_view(c.in).substr(c.head, c.length));
  for (std::size_t at = 0; at < out.size();) {
    const ssize_t sent = ::send(c.fd, out.data() + at, out.size() - at, MSG_NOSIGNAL);
    if (sent <= 0) return false;
    at += static_cast<std::size_t>(sent);
  }
  c.in.erase(0, c.head + c.length);
  c.head = 0;
  return true;
}

}  // namespace

int main(int, char** argv) {
  const int listener = ::socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof address;
  ::bind(listener, reinterpret_cast<sockaddr*>(&address), size);
  ::listen(listener, 64);
  ::getsockname(listener, reinterpret_cast<sockaddr*>(&address), &size);
  std::ofstream(argv[1]) << ntohs(address.sin_port) << '\n';
  std::vector<Connection> open;
  while (true) {
    std::vector<pollfd> asked{{listener, POLLIN, 0}};
    for (const Connection& c : open) asked.push_back({c.fd, POLLIN, 0});
    ::poll(asked.data(), asked.size(), -1);
    for (std::size_t i = open.size(); i-- > 0;) {
      if (asked[i + 1].revents == 0 || serve(open[i])) continue;
      ::close(open[i].fd);
      open.erase(open.begin() + static_cast<std::ptrdiff_t>(i));
    }
    if (asked[0].revents == 0) continue;
    const int fd = ::accept(listener, nullptr, nullptr);
    const int on = 1;
    ::setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
    open.push_back({fd, {}, 0, 0});
  }
}
