#pragma once
// What each answer of a record server means for a delivery, and how long is waited when: the data
// of delivery in one place.

#include <array>
#include <chrono>
#include <cstdint>
#include <span>
#include <string_view>

namespace footbridge::deliver {

/// What is to be done about an answer.
enum class Act : std::uint8_t {
  Done,          ///< stored
  ReadEntries,   ///< the answer's entries decide
  Confirm,       ///< taken, but not yet stored: look for it later
  Retry,         ///< again, as often as it takes
  RetryBounded,  ///< again some times, then a person
  Refuse,        ///< these bytes will never be taken
  Hold,          ///< a person has to look
  Renew          ///< fresh credentials and once more, then a person
};

/// Whom an answer speaks of. Faults of the destination would hit every other bundle too: after a
/// few in a row nothing more is sent. Unclear is taken for the destination's until a bundle
/// arrived.
enum class About : std::uint8_t { Bundle, Destination, Moment, Unclear };

struct AnswerRow {
  int from;  ///< first and last HTTP status
  int to;
  Act act;
  About about;
  std::string_view text;  ///< what it means, for people
  std::string_view mend;
  std::string_view source;
  std::string_view certainty;
};

/// The row for an HTTP status; statuses that no row names have the row of their hundred.
const AnswerRow& rowFor(long status);
std::span<const AnswerRow> answerTable();

/// Waits before try 2, 3, ... of one bundle; the last one goes on. Each is taken times 0.5 to 1.5
/// at random, so that many bridges do not come back at once. Our choice.
inline constexpr std::array kBackOff{
    std::chrono::milliseconds(1'000),   std::chrono::milliseconds(2'000),
    std::chrono::milliseconds(5'000),   std::chrono::milliseconds(15'000),
    std::chrono::milliseconds(60'000),  std::chrono::milliseconds(300'000),
    std::chrono::milliseconds(900'000), std::chrono::milliseconds(3'600'000)};

inline constexpr int kBoundedTries = 8;       ///< RetryBounded in a row until a person; our choice
inline constexpr int kBreakerFailures = 5;    ///< passing faults in a row until a pause; our choice
inline constexpr int kDestinationFaults = 3;  ///< in a row until nothing more is sent; our choice

}  // namespace footbridge::deliver
