#pragma once
// Wall clocks. A local time is one moment, none (the clock sprang over it) or two (it was set
// back), by the time-zone database of the system.

#include <cstdint>
#include <optional>
#include <string_view>

#include "core/time.hpp"

namespace date {
class time_zone;
}

namespace footbridge {

/// What a local time may stand for.
struct Moments {
  enum class Count : std::uint8_t { None, One, Two };
  Count count = Count::One;
  Instant first;   ///< the moment; of two the earlier; of none the last second before the gap
  Instant second;  ///< of two the later; of none the first second after the gap
};

/// A zone of the IANA database, such as "Europe/London".
class Zone {
 public:
  /// Nothing if the system's database has no zone of that name, or if there is no database.
  static std::optional<Zone> named(std::string_view name);

  /// The moments at which the clocks there showed this day and second of the day (0 to 86399).
  /// Offsets are rounded to minutes, which only matters before 1972.
  Moments at(const Date& date, std::int32_t secondOfDay) const;

 private:
  explicit Zone(const date::time_zone* zone) : zone_(zone) {}
  const date::time_zone* zone_;
};

}  // namespace footbridge
