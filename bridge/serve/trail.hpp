#pragma once
// The trail of accesses: who did what when and how it ended, in lines that are chained so that none
// can be changed, left out or put in between without the key. The chain goes on from file to file.
// No patient data stand in it.

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>

#include "core/result.hpp"
#include "serve/trail_files.hpp"

namespace footbridge::serve {

struct Access {
  std::string at;       ///< ISO 8601, UTC
  std::string who;      ///< name of the token, "anyone" where none is asked for, "local", "service"
  std::string from;     ///< address
  std::string what;     ///< "POST /assessments": the path as a pattern, never as it was sent
  std::string about;    ///< rows of the outbox and keyed hashes of assessments
  int outcome = 0;      ///< status of the answer
  std::string request;  ///< X-Request-Id
};

/// When a file of the trail is closed and another begun.
struct TrailLimits {
  std::uint64_t bytes = 64U << 20U;
  bool monthly = true;  ///< also when a month (UTC) is over
};

class Trail {
 public:
  /// Opens or makes the file and takes up the chain at its end, or at the end of the newest closed
  /// one. Only ends of files are read. What a power cut left unfinished there is cut off. Issues of
  /// type NoStore, or Exception if the last line is not one of ours.
  static Result<Trail> open(const std::filesystem::path& file, KeyedHash hash);

  /// Appends a whole line or, with issues, nothing; what was appended survives the end of the
  /// program at once, and a power cut after sync().
  Issues note(const Access& access);

  /// May run beside note(), but not beside turn().
  Issues sync();

  /// Closes the file and begins another if it is time; `now` as in Access. With issues the trail
  /// goes on in the file it has. Not beside note().
  Issues turn(const TrailLimits& limits, std::string_view now);

  /// Removes closed files whose last line is older than `before` (as in Access::at), the oldest
  /// first, and notes each before it goes. Not beside note().
  Issues removeOlder(std::string_view before, std::string_view now);

  /// Number of the last line.
  std::uint64_t lines() const { return lines_; }

  ~Trail();
  Trail(Trail&& other) noexcept;
  Trail& operator=(Trail&&) = delete;

 private:
  Trail(std::filesystem::path file, int descriptor, KeyedHash hash)
      : file_(std::move(file)), descriptor_(descriptor), hash_(std::move(hash)) {}

  Issues takeUp(const TrailTail& tail);
  bool cutBack();
  bool due(const TrailLimits& limits, std::string_view now) const;

  std::filesystem::path file_;
  int descriptor_;
  KeyedHash hash_;
  std::string chain_;
  std::string month_;        ///< of the first line of the file, "2026-03"; empty: it has none
  std::uint64_t first_ = 1;  ///< number of the first line of the file
  std::uint64_t lines_ = 0;
  std::uint64_t bytes_ = 0;  ///< of the file, in whole lines
  bool torn_ = false;        ///< after them stands a part of one
};

/// What a check of a trail found.
struct TrailReport {
  std::uint64_t first = 0;  ///< number of the first line that is there; 0: there is none
  std::uint64_t lines = 0;  ///< number of the last
  bool torn = false;        ///< the last one is unfinished
  std::string chain;  ///< of the last line: noted elsewhere, it shows later that none is missing
  Issues issues;      ///< each break with its file and line
};

/// Checks all files in their order. Lines before `from` may be missing (their files were moved
/// away), and those that the trail itself says were removed as configured.
TrailReport verifyTrail(const std::filesystem::path& file, const KeyedHash& hash,
                        std::uint64_t from = 1);

/// What the service notes when it removes a file, and how `about` names its lines.
inline constexpr std::string_view kTrailRemoved = "trail removed";
inline constexpr std::string_view kTrailRemovedTo = "lines to ";

}  // namespace footbridge::serve
