// The one file that knows the date library, which reads the system's time-zone database.

#include "core/zone.hpp"

#include <date/tz.h>

#include <stdexcept>

namespace footbridge {
namespace {

Instant instantAt(std::chrono::seconds local, std::chrono::seconds offset) {
  const auto minutes = std::chrono::duration_cast<std::chrono::minutes>(offset);
  return {std::chrono::sys_seconds{local - offset}, static_cast<std::int16_t>(minutes.count())};
}

}  // namespace

std::optional<Zone> Zone::named(std::string_view name) {
  try {
    return Zone(date::locate_zone(std::string(name)));
  } catch (const std::runtime_error&) {
    return std::nullopt;
  }
}

Moments Zone::at(const Date& date, std::int32_t secondOfDay) const {
  const std::chrono::seconds local =
      std::chrono::sys_days{date}.time_since_epoch() + std::chrono::seconds{secondOfDay};
  const date::local_info info = zone_->get_info(date::local_seconds{local});
  if (info.result == date::local_info::unique) {
    return {Moments::Count::One, instantAt(local, info.first.offset), {}};
  }
  if (info.result == date::local_info::ambiguous) {
    return {Moments::Count::Two, instantAt(local, info.first.offset),
            instantAt(local, info.second.offset)};
  }
  const std::chrono::seconds jump = info.first.end.time_since_epoch();
  return {Moments::Count::None,
          instantAt(jump + info.first.offset - std::chrono::seconds{1}, info.first.offset),
          instantAt(jump + info.second.offset, info.second.offset)};
}

}  // namespace footbridge
