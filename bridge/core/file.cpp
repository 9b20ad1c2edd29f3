#include "core/file.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <cstdint>
#include <cstring>
#include <fstream>
#include <iterator>
#include <system_error>
#include <utility>

#include "core/descriptor.hpp"

namespace footbridge {
namespace {

Issue cannot(std::string_view verb, const std::filesystem::path& path, IssueType type) {
  const std::string why = std::generic_category().message(errno);
  return {Severity::Fatal,
          type,
          "file",
          "",
          "Cannot " + std::string(verb) + " " + path.string() + ": " + why + ".",
          "Check that the path is right and that this user may use it."};
}

bool writeAll(int fd, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t written = ::write(fd, bytes.data(), bytes.size());
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) return false;
    bytes.remove_prefix(static_cast<std::size_t>(written));
  }
  return true;
}

std::filesystem::path folderOf(const std::filesystem::path& path) {
  return path.has_parent_path() ? path.parent_path() : std::filesystem::path(".");
}

}  // namespace

bool syncFolder(const std::filesystem::path& folder) {
  const Descriptor descriptor{::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC)};
  return descriptor.get() >= 0 && ::fsync(descriptor.get()) == 0;
}

Issues syncDrive(const std::filesystem::path& folder) {
  const Descriptor descriptor{::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC)};
  if (descriptor.get() >= 0 && ::syncfs(descriptor.get()) == 0) return {};
  return {cannot("sync", folder, IssueType::NoStore)};
}

Result<std::string> readFile(const std::filesystem::path& path) {
  std::error_code ignored;
  if (std::filesystem::is_directory(path, ignored)) {
    errno = EISDIR;
    return cannot("read", path, IssueType::NotFound);
  }
  std::ifstream in(path, std::ios::binary);
  if (!in) return cannot("read", path, IssueType::NotFound);
  std::string bytes{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
  if (in.bad()) return cannot("read", path, IssueType::NotFound);
  return bytes;
}

void makePrivateFolder(const std::filesystem::path& folder) {
  std::error_code ignored;
  std::filesystem::create_directories(folder, ignored);
  std::filesystem::permissions(folder, std::filesystem::perms::owner_all, ignored);
}

Issues writeFileAtomically(const std::filesystem::path& path, std::string_view bytes, Writing how) {
  GrowingFile file(path, how);
  Issues issues = file.append(bytes);
  return issues.empty() ? file.finish(path) : issues;
}

/// Two that are written at the same time for the same name have names of their own.
GrowingFile::GrowingFile(const std::filesystem::path& path, Writing how) : how_(how) {
  static std::atomic<std::uint64_t> made = 0;
  do {
    part_ = path;
    part_ += "." + std::to_string(::getpid()) + "-" + std::to_string(++made) + ".part";
    fd_ = ::open(part_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, how_.mode);
  } while (fd_ < 0 && errno == EEXIST);
}

GrowingFile::~GrowingFile() {
  if (fd_ < 0) return;
  ::close(fd_);
  ::unlink(part_.c_str());
}

Issues GrowingFile::append(std::string_view bytes) {
  // Without a file errno still says why it could not be opened.
  if (fd_ < 0 || !writeAll(fd_, bytes)) return {cannot("write", part_, IssueType::NoStore)};
  return {};
}

Issues GrowingFile::finish(const std::filesystem::path& name) {
  const bool synced = fd_ >= 0 && (!how_.synced || ::fsync(fd_) == 0);
  if (!synced) return {cannot("write", part_, IssueType::NoStore)};
  const bool closed = ::close(std::exchange(fd_, -1)) == 0;
  if (!closed) return {cannot("write", part_, IssueType::NoStore)};
  if (::rename(part_.c_str(), name.c_str()) != 0) {
    return {cannot("rename to", name, IssueType::NoStore)};
  }
  const std::filesystem::path folder = folderOf(name);
  if (how_.synced && !syncFolder(folder)) return {cannot("sync", folder, IssueType::NoStore)};
  return {};
}

Issues createSecretFile(const std::filesystem::path& path, std::string_view bytes) {
  const Descriptor out{::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600)};
  if (out.get() < 0) return {cannot("create", path, IssueType::NoStore)};
  const bool written = writeAll(out.get(), bytes) && ::fsync(out.get()) == 0;
  if (!written || !syncFolder(folderOf(path))) return {cannot("write", path, IssueType::NoStore)};
  return {};
}

}  // namespace footbridge
