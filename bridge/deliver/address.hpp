#pragma once
// Which addresses of others may be used.

#include <string>

namespace footbridge::deliver {

/// True of https, or http on a loopback host, without user or password.
bool allowedAddress(const std::string& url);

/// The same of what paths and queries are joined to: neither query nor fragment.
bool allowedBase(const std::string& base);

}  // namespace footbridge::deliver
