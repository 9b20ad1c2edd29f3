#include "serve/notify.hpp"

#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <charconv>
#include <cstdlib>
#include <cstring>

namespace footbridge::serve {

void notifyManager(std::string_view state) {
  const char* const name = std::getenv("NOTIFY_SOCKET");
  sockaddr_un to{};
  if (name == nullptr || std::strlen(name) >= sizeof to.sun_path) return;
  to.sun_family = AF_UNIX;
  std::memcpy(to.sun_path, name, std::strlen(name));
  if (to.sun_path[0] == '@') to.sun_path[0] = '\0';  // a name that is in no file system
  const int out = ::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
  if (out < 0) return;
  const auto size = static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + std::strlen(name));
  const void* const address = &to;
  // That nobody listens is not our problem: the manager will act on its own.
  static_cast<void>(::sendto(out, state.data(), state.size(), MSG_NOSIGNAL,
                             static_cast<const sockaddr*>(address), size));
  ::close(out);
}

std::optional<std::chrono::microseconds> watchdogPeriod() {
  const char* const text = std::getenv("WATCHDOG_USEC");
  if (text == nullptr) return std::nullopt;
  std::int64_t out = 0;
  const auto read = std::from_chars(text, text + std::strlen(text), out);
  if (read.ec != std::errc() || out <= 0) return std::nullopt;
  return std::chrono::microseconds(out);
}

}  // namespace footbridge::serve
