#include "serve/trail.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <system_error>
#include <utility>

#include "core/file.hpp"

namespace footbridge::serve {
namespace {

constexpr std::size_t kMonth = 7;  ///< "2026-03"

Issue cannot(std::string_view verb) {
  return {Severity::Fatal,
          IssueType::NoStore,
          "trail",
          "",
          "Cannot " + std::string(verb) +
              " the audit trail: " + std::generic_category().message(errno) + ".",
          "Without it nothing is served. Check the disk and the rights of the data folder."};
}

Issue strangeEnd(const std::filesystem::path& file) {
  return {Severity::Fatal,
          IssueType::Exception,
          "trail",
          "",
          "The audit trail " + file.string() + " does not end with a line of ours.",
          "See `footbridge audit verify`. Move the files of the trail away to begin a new one."};
}

int openToAppend(const std::filesystem::path& file, int further) {
  return ::open(file.c_str(), O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC | further, 0600);
}

bool syncFolderOf(const std::filesystem::path& file) {
  return syncFolder(file.has_parent_path() ? file.parent_path() : ".");
}

/// Never over a file that is there: errno says EEXIST then.
bool renameToNew(const std::filesystem::path& from, const std::filesystem::path& to) {
  return ::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0;
}

/// Whether the last line follows from the one before it, or from what it says stood before it.
bool authentic(const TrailTail& tail, const TrailLine& last, const KeyedHash& hash) {
  const std::optional<TrailLine> previous = partsOf(tail.previous);
  if (!tail.previous.empty() && !previous) return false;
  const std::string_view before = previous ? previous->chain : last.before;
  return trailChain(hash, before, last.body) == last.chain;
}

}  // namespace

Result<Trail> Trail::open(const std::filesystem::path& file, KeyedHash hash) {
  Result<TrailTail> tail = tailOf(file);
  if (!tail) return std::move(tail).issues();
  const int descriptor = openToAppend(file, 0);
  if (descriptor < 0) return cannot("open");
  Trail out(file, descriptor, std::move(hash));
  const bool torn = tail->whole < tail->size;
  if (torn && ::ftruncate(descriptor, static_cast<off_t>(tail->whole)) != 0) return cannot("mend");
  out.bytes_ = tail->whole;
  if (!tail->last.empty()) {
    const std::string head = headOf(file);
    const std::optional<TrailLine> first = partsOf(head);
    if (!first) return strangeEnd(file);
    out.first_ = first->number;
    out.month_ = first->at.substr(0, kMonth);
    if (Issues issues = out.takeUp(*tail); !issues.empty()) return issues;
    return out;
  }
  const std::vector<ClosedPart> closed = closedParts(file);
  if (closed.empty()) return out;
  tail = tailOf(closed.back().path);
  if (!tail) return std::move(tail).issues();
  if (Issues issues = out.takeUp(*tail); !issues.empty()) return issues;
  out.first_ = out.lines_ + 1;
  return out;
}

/// Goes on after the last line of that end.
Issues Trail::takeUp(const TrailTail& tail) {
  const std::optional<TrailLine> last = partsOf(tail.last);
  if (!last || !authentic(tail, *last, hash_)) return {strangeEnd(file_)};
  chain_ = last->chain;
  lines_ = last->number;
  return {};
}

/// Takes away what a failed write left after the last whole line: the next one must not be glued to
/// it. True if nothing of it is left.
bool Trail::cutBack() {
  torn_ = torn_ && ::ftruncate(descriptor_, static_cast<off_t>(bytes_)) != 0;
  return !torn_;
}

Issues Trail::note(const Access& access) {
  if (!cutBack()) return {cannot("mend")};
  const bool continues = lines_ + 1 == first_ && lines_ > 0;
  const std::string body = trailBody(access, lines_ + 1, continues ? chain_ : std::string());
  std::string chain = trailChain(hash_, chain_, body);
  const std::string line = trailLine(body, chain);
  const ssize_t written = ::write(descriptor_, line.data(), line.size());
  if (written != static_cast<ssize_t>(line.size())) {
    if (written >= 0) errno = ENOSPC;  // a part of it was written, which sets no error
    const Issue issue = cannot("write to");
    torn_ = written > 0;
    cutBack();
    return {issue};
  }
  chain_ = std::move(chain);
  ++lines_;
  bytes_ += line.size();
  if (month_.empty()) month_ = access.at.substr(0, kMonth);
  return {};
}

Issues Trail::sync() {
  if (::fdatasync(descriptor_) == 0) return {};
  return {cannot("sync")};
}

bool Trail::due(const TrailLimits& limits, std::string_view now) const {
  if (month_.empty()) return false;
  return bytes_ >= limits.bytes || (limits.monthly && now.substr(0, kMonth) != month_);
}

Issues Trail::turn(const TrailLimits& limits, std::string_view now) {
  if (!due(limits, now)) return {};
  if (!cutBack()) return {cannot("mend")};
  if (Issues issues = sync(); !issues.empty()) return issues;
  const std::filesystem::path closed = closedName(file_, first_);
  if (!renameToNew(file_, closed)) return {cannot("turn over")};
  const int next = openToAppend(file_, O_EXCL);
  if (next < 0) {
    Issue issue = cannot("turn over");
    ::rename(closed.c_str(), file_.c_str());
    return {std::move(issue)};
  }
  ::close(std::exchange(descriptor_, next));
  first_ = lines_ + 1;
  month_.clear();
  bytes_ = 0;
  if (!syncFolderOf(file_)) return {cannot("sync")};
  return {};
}

Issues Trail::removeOlder(std::string_view before, std::string_view now) {
  for (const ClosedPart& part : closedParts(file_)) {
    const Result<TrailTail> tail = tailOf(part.path);
    if (!tail) return tail.issues();
    const std::optional<TrailLine> last = partsOf(tail->last);
    if (!last || last->at >= before || part.first >= first_) return {};
    const std::string about = std::string(kTrailRemovedTo) + std::to_string(last->number);
    Issues issues =
        note({std::string(now), "service", "", std::string(kTrailRemoved), about, 200, ""});
    if (issues.empty()) issues = sync();
    if (!issues.empty()) return issues;
    if (::unlink(part.path.c_str()) != 0) return {cannot("remove an old file of")};
  }
  return {};
}

Trail::~Trail() {
  if (descriptor_ >= 0) ::close(descriptor_);
}

Trail::Trail(Trail&& other) noexcept
    : file_(std::move(other.file_)),
      descriptor_(std::exchange(other.descriptor_, -1)),
      hash_(std::move(other.hash_)),
      chain_(std::move(other.chain_)),
      month_(std::move(other.month_)),
      first_(other.first_),
      lines_(other.lines_),
      bytes_(other.bytes_),
      torn_(other.torn_) {}

}  // namespace footbridge::serve
