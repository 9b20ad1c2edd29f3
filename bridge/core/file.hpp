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

/// Makes a folder with those above it, for its owner alone. If that fails, so does whatever is then
/// written there, which says why.
void makePrivateFolder(const std::filesystem::path& folder);

/// How a file is written.
struct Writing {
  unsigned mode = 0640;  ///< who may read it
  bool synced = true;    ///< else syncDrive() has to follow
};

/// Writes beside the target, syncs, renames and syncs the folder, so that after a crash the file is
/// there whole or not at all. An empty list means it is done (IssueType NoStore otherwise).
Issues writeFileAtomically(const std::filesystem::path& path, std::string_view bytes,
                           Writing how = {});

/// The names in a folder onto the disk. False and errno if that fails.
bool syncFolder(const std::filesystem::path& folder);

/// Everything on the drive of that folder onto the disk: for many files at once.
Issues syncDrive(const std::filesystem::path& folder);

/// Writes a file that only this user may read and that must not be there yet, durably.
Issues createSecretFile(const std::filesystem::path& path, std::string_view bytes);

/// A file that grows piece by piece beside its final name and takes that name whole or not at all,
/// so that what is gathered while streaming needs no memory. Left unfinished, it removes itself.
class GrowingFile {
 public:
  /// Opens `path` with ".part" added; whether that went well is told by the first append().
  explicit GrowingFile(const std::filesystem::path& path, Writing how = {});
  ~GrowingFile();
  GrowingFile(const GrowingFile&) = delete;
  GrowingFile& operator=(const GrowingFile&) = delete;

  /// An empty list means it is written (IssueType NoStore otherwise).
  Issues append(std::string_view bytes);

  /// Syncs, gives the file its name and syncs the folder.
  Issues finish(const std::filesystem::path& name);

 private:
  std::filesystem::path part_;
  Writing how_;
  int fd_ = -1;
};

}  // namespace footbridge
