#pragma once
// The trail of accesses: who did what when and how it ended, in lines that are chained so that none
// can be changed, left out or put in between without the key. No patient data stand in it.

#include <cstdint>
#include <filesystem>
#include <functional>
#include <string>
#include <string_view>

#include "core/result.hpp"

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

/// A keyed hash: 16 bytes that nobody makes without the key.
using KeyedHash = std::function<std::string(std::string_view)>;

class Trail {
 public:
  /// Opens or makes the file and takes up the chain at its end. What a power cut left unfinished
  /// there is cut off, and that is noted. Issues of type NoStore, or Exception if the last line is
  /// not one of ours.
  static Result<Trail> open(const std::filesystem::path& file, KeyedHash hash);

  /// Appends; what was appended survives the end of the program at once, and a power cut after
  /// sync().
  Issues note(const Access& access);
  Issues sync();

  std::uint64_t lines() const { return lines_; }

  ~Trail();
  Trail(Trail&& other) noexcept;
  Trail& operator=(Trail&&) = delete;

 private:
  Trail(int descriptor, KeyedHash hash) : descriptor_(descriptor), hash_(std::move(hash)) {}

  int descriptor_;
  KeyedHash hash_;
  std::string chain_;
  std::uint64_t lines_ = 0;
};

/// What a check of a trail found.
struct TrailReport {
  std::uint64_t lines = 0;
  std::string chain;  ///< of the last line: noted elsewhere, it shows later that none is missing
  Issues issues;      ///< each break with its line
};

TrailReport verifyTrail(std::string_view text, const KeyedHash& hash);

}  // namespace footbridge::serve
