#pragma once
// Whole files in, and out so that a reader never sees half of one.

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>

#include "core/result.hpp"

namespace footbridge {

/// The bytes of a file, or the reason why not (IssueType NotFound).
Result<std::string> readFile(const std::filesystem::path& path);

/// The same of a file that others put there: not of a link or anything else than a plain file, and
/// not of more than `limit` bytes (IssueType TooLong).
Result<std::string> readPlainFile(const std::filesystem::path& path, std::uint64_t limit);

/// Moves a file within a file system and gives the name it has there: where that is taken already,
/// a number is put before its ending ("visits.2.csv"). Nothing is ever written over.
Result<std::string> moveInto(const std::filesystem::path& file,
                             const std::filesystem::path& folder);

/// Writes beside the target, syncs, renames and syncs the folder, so that after a crash the file is
/// there whole or not at all. An empty list means it is done (IssueType NoStore otherwise).
Issues writeFileAtomically(const std::filesystem::path& path, std::string_view bytes);

/// Writes a file that only this user may read and that must not be there yet, durably.
Issues createSecretFile(const std::filesystem::path& path, std::string_view bytes);

/// A file that grows piece by piece beside its final name and takes that name whole or not at all,
/// so that what is gathered while streaming needs no memory. Left unfinished, it removes itself.
class GrowingFile {
 public:
  /// Opens `path` with ".part" added; whether that went well is told by the first append().
  explicit GrowingFile(std::filesystem::path path);
  ~GrowingFile();
  GrowingFile(const GrowingFile&) = delete;
  GrowingFile& operator=(const GrowingFile&) = delete;

  /// An empty list means it is written (IssueType NoStore otherwise).
  Issues append(std::string_view bytes);

  /// Syncs, gives the file its name and syncs the folder.
  Issues finish(const std::filesystem::path& name);

 private:
  std::filesystem::path part_;
  int fd_;
};

}  // namespace footbridge
