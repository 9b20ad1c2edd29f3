#include "app/folder_files.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <system_error>

#include "core/descriptor.hpp"
#include "core/file.hpp"

namespace footbridge::app {
namespace {

using How = FileBytes::How;

constexpr std::string_view kClaimed = ".footbridge-moving.";
constexpr std::size_t kLongestName = 200;  ///< so that there is room for endings

FileBytes refused(IssueType type, std::string text, std::string mend) {
  return {
      How::Refused, {}, {{Severity::Error, type, "folder", "", std::move(text), std::move(mend)}}};
}

FileBytes later(int error) {
  return {How::Later,
          {},
          {{Severity::Error, IssueType::Transient, "folder", "",
            "A file cannot be read: " + std::generic_category().message(error) + ".",
            "It is tried again; see whether the drive is well."}}};
}

FileBytes special() {
  return refused(IssueType::NotSupported, "This is no regular file.",
                 "Put a file here that holds the assessments itself.");
}

FileBytes unopened(int error) {
  if (error == ENOENT) return {};
  if (error == ELOOP) {
    return refused(IssueType::NotSupported, "This is a link, and links are not followed.",
                   "Put the file itself here.");
  }
  if (error == ENXIO) return special();
  if (error != EACCES && error != EPERM) return later(error);
  return refused(IssueType::Security, "This user may not read the file.",
                 "Give the user of the service the right to read it, and put it back.");
}

/// What is wrong with a file before it is read, if anything.
std::optional<FileBytes> judged(const struct stat& seen, std::uint64_t maxBytes) {
  if (!S_ISREG(seen.st_mode)) return special();
  if (seen.st_size == 0) {
    return refused(IssueType::Structure, "The file is empty.", "Write it anew.");
  }
  if (static_cast<std::uint64_t>(seen.st_size) <= maxBytes) return std::nullopt;
  return refused(IssueType::TooLong,
                 "The file is longer than " + std::to_string(maxBytes) + " bytes.",
                 "Divide it, or set max_megabytes of the folder.");
}

/// True if somebody has the file open to write, as far as the file system can tell.
bool writtenTo(int fd) {
  if (::fcntl(fd, F_SETLEASE, F_RDLCK) == 0) {
    ::fcntl(fd, F_SETLEASE, F_UNLCK);
    return false;
  }
  return errno == EAGAIN;
}

bool readAll(int fd, std::string& out) {
  std::size_t at = 0;
  while (at < out.size()) {
    const ssize_t got = ::read(fd, out.data() + at, out.size() - at);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return false;
    if (got == 0) break;
    at += static_cast<std::size_t>(got);
  }
  out.resize(at);
  return true;
}

bool unchanged(const struct stat& one, const struct stat& other) {
  return one.st_size == other.st_size && one.st_mtim.tv_sec == other.st_mtim.tv_sec &&
         one.st_mtim.tv_nsec == other.st_mtim.tv_nsec;
}

bool taken(const std::filesystem::path& path) {
  std::error_code ignored;
  return std::filesystem::exists(std::filesystem::symlink_status(path, ignored));
}

/// Names of files are not told: they may hold those of patients.
Issues cannotMove(const std::filesystem::path& folder, int error) {
  const bool there = error == EEXIST;
  return {{Severity::Error, there ? IssueType::Duplicate : IssueType::NoStore, "folder", "",
           "A file cannot be moved to " + folder.string() + ": " +
               std::generic_category().message(error) + ".",
           "See that this user may write there and that the disk has room."}};
}

/// From one file system to another. A crash in between leaves both, and the file is taken again,
/// which changes nothing.
Issues copyOver(const std::filesystem::path& from, const std::filesystem::path& to) {
  const Result<std::string> bytes = readFile(from);
  const bool copied = bytes && writeFileAtomically(to, *bytes).empty();
  if (copied && ::unlink(from.c_str()) == 0) return {};
  return cannotMove(to.parent_path(), errno);
}

}  // namespace

bool temporaryName(std::string_view name) {
  return name.empty() || name.front() == '.' || name.front() == '~' || name.ends_with('~') ||
         name.ends_with(".tmp") || name.ends_with(".part");
}

std::string claimedName(std::string_view name) {
  if (name.size() > kLongestName) name = name.substr(name.size() - kLongestName);
  return std::string(kClaimed) + std::string(name);
}

std::optional<std::string> nameOfClaimed(std::string_view claimed) {
  if (!claimed.starts_with(kClaimed) || claimed.size() == kClaimed.size()) return std::nullopt;
  return std::string(claimed.substr(kClaimed.size()));
}

std::optional<FileMark> markOf(const std::filesystem::path& file) {
  struct stat is {};
  if (::lstat(file.c_str(), &is) != 0) return std::nullopt;
  return FileMark{
      static_cast<std::uint64_t>(is.st_dev), static_cast<std::uint64_t>(is.st_ino),
      static_cast<std::uint64_t>(is.st_size),
      static_cast<std::int64_t>(is.st_mtim.tv_sec) * 1'000'000'000 + is.st_mtim.tv_nsec};
}

FileBytes readFinished(const std::filesystem::path& file, std::uint64_t maxBytes) {
  const Descriptor open{::open(file.c_str(), O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC)};
  if (open.get() < 0) return unopened(errno);
  struct stat before {};
  struct stat after {};
  if (::fstat(open.get(), &before) != 0) return later(errno);
  if (S_ISREG(before.st_mode) && writtenTo(open.get())) return {};
  if (std::optional<FileBytes> no = judged(before, maxBytes)) return *std::move(no);
  FileBytes out{How::Read, std::string(static_cast<std::size_t>(before.st_size), '\0'), {}};
  if (!readAll(open.get(), out.bytes) || ::fstat(open.get(), &after) != 0) return later(errno);
  if (!unchanged(before, after) || writtenTo(open.get())) return {};
  return out;
}

std::filesystem::path freeName(const std::filesystem::path& folder, const std::string& name) {
  const std::filesystem::path whole(name);
  const std::string ending = whole.extension().string();
  std::string stem = whole.stem().string();
  if (name.size() > kLongestName) stem.resize(std::min(stem.size(), kLongestName / 2));
  const std::string kept = ending.size() > kLongestName / 2 ? "" : ending;
  std::filesystem::path out = folder / (stem + kept);
  stem += '.';
  for (std::size_t i = 2; taken(out); ++i) {
    std::string numbered = stem;
    (numbered += std::to_string(i)) += kept;
    out = folder / numbered;
  }
  return out;
}

Issues moveFile(const std::filesystem::path& from, const std::filesystem::path& to) {
  if (::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0) return {};
  if (errno == EXDEV) return copyOver(from, to);
  // Not every file system can promise that; a name is looked at once more then.
  const bool cannotPromise = errno == EINVAL || errno == ENOSYS;
  if (cannotPromise && !taken(to) && ::rename(from.c_str(), to.c_str()) == 0) return {};
  return cannotMove(to.parent_path(), cannotPromise && taken(to) ? EEXIST : errno);
}

}  // namespace footbridge::app
