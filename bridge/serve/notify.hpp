#pragma once
// Telling a service manager how we are: the datagrams of sd_notify(3), without the library.

#include <chrono>
#include <optional>
#include <string_view>

namespace footbridge::serve {

/// "READY=1", "RELOADING=1", "STOPPING=1", "WATCHDOG=1", "STATUS=...". Nothing happens where
/// nobody asked for it by NOTIFY_SOCKET.
void notifyManager(std::string_view state);

/// How often the manager wants to hear from us (WATCHDOG_USEC), if it does.
std::optional<std::chrono::microseconds> watchdogPeriod();

}  // namespace footbridge::serve
