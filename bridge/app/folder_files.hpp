#pragma once
// Single files of a watched folder: whether they can be read, and where they go.

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

#include "core/result.hpp"

namespace footbridge::app {

/// True for names under which programs keep what they have not finished: a leading dot or tilde, an
/// ending .tmp or .part.
bool temporaryName(std::string_view name);

/// The hidden name under which a file of that name stands while it is being moved, in the folder it
/// came to. After a crash it may still be there.
std::string claimedName(std::string_view name);

/// The name that a file bore before it was claimed; nothing if that is no such name.
std::optional<std::string> nameOfClaimed(std::string_view claimed);

/// What tells a file from another one, or from itself after a change.
struct FileMark {
  std::uint64_t device = 0;
  std::uint64_t inode = 0;
  std::uint64_t size = 0;
  std::int64_t changed = 0;  ///< nanoseconds since 1970, by the clock of the drive

  bool operator==(const FileMark&) const = default;
};

/// Of the file itself, if it is a link. Nothing if there is none.
std::optional<FileMark> markOf(const std::filesystem::path& file);

/// What came of the try to read a file.
struct FileBytes {
  enum class How : std::uint8_t {
    Read,
    Refused,  ///< never will be read as it stands, for the issue
    Later     ///< gone, still written to, or not to be had just now; with an issue in the last case
  };
  How how = How::Later;
  std::string bytes;
  Issues issues;
};

/// Reads a file that nobody writes to. Links are not followed: they may lead anywhere.
FileBytes readFinished(const std::filesystem::path& file, std::uint64_t maxBytes);

/// A name in that folder that is not taken: "a.json", then "a.2.json" and so on.
std::filesystem::path freeName(const std::filesystem::path& folder, const std::string& name);

/// Moves a file without replacing another; over the border of a file system by a copy. Issues of
/// type NoStore, or Duplicate if the name was taken meanwhile.
Issues moveFile(const std::filesystem::path& from, const std::filesystem::path& to);

}  // namespace footbridge::app
