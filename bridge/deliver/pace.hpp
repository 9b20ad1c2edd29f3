#pragma once
// When to send how much: back-off of one bundle, pauses of a whole destination, and when to give
// up.

#include <chrono>
#include <cstdint>
#include <random>
#include <vector>

#include "deliver/judge.hpp"

namespace footbridge::deliver {

/// The wall clock may be put right at any time; what has to wait, waits by one that never jumps.
using Steady = std::chrono::steady_clock;
using Moment = Steady::time_point;

/// How long a patient that the record confirmed is not asked for again; our choice. A record may
/// merge patients at any time, and a service runs for months.
inline constexpr std::chrono::minutes kConfirmedFor{5};

/// What a deployment or a test may set about it.
struct Patience {
  std::vector<std::chrono::milliseconds> backOff;  ///< empty: the table
  std::chrono::milliseconds giveUpAfter{30'000};   ///< without any progress
  std::chrono::milliseconds graceAtStop{10'000};   ///< for what is under way when told to stop
  std::chrono::milliseconds confirmedFor = kConfirmedFor;
  std::uint32_t seed = std::random_device{}();  ///< of the jitter
};

/// One destination's pace. Begins with a single bundle until one was answered; after several
/// passing faults in a row it pauses and tries with a single one again (a circuit breaker).
class Pace {
 public:
  Pace(Patience patience, int connections, Moment now);

  /// How many may be under way at this moment.
  std::size_t allowed(Moment now) const;

  /// Takes note of an answer.
  void note(const Verdict& verdict, std::optional<std::chrono::seconds> retryAfter, Moment now);

  /// How long the bundle waits after so many tries.
  std::chrono::milliseconds wait(std::int32_t attempts);

  /// The destination itself is at fault: nothing more should be sent.
  bool faulty() const { return destinationFaults_ >= kDestinationFaults; }

  /// No progress for too long, or none possible until `next` within that time.
  bool exhausted(Moment now, Moment next) const;

  /// An answer came, whatever it says.
  void heard() { answered_ = true; }

  /// Nothing was ever answered, and the server could not be reached.
  bool unreachable() const { return !answered_ && failed_; }

  /// There was nothing to send: the time without progress begins anew.
  void idle(Moment now) { lastProgress_ = now; }

  Moment pausedUntil() const { return pausedUntil_; }

 private:
  Patience patience_;
  std::size_t connections_;
  std::minstd_rand random_;
  Moment pausedUntil_{};
  Moment lastProgress_;
  bool single_ = true;  ///< one at a time until an answer came through
  bool delivered_ = false;
  bool answered_ = false;
  bool failed_ = false;
  int failures_ = 0;  ///< passing faults in a row
  int pauses_ = 0;    ///< in a row
  int destinationFaults_ = 0;
};

}  // namespace footbridge::deliver
