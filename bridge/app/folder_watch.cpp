#include "app/folder_watch.hpp"

#include <poll.h>
#include <sys/eventfd.h>
#include <sys/inotify.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <sstream>
#include <system_error>

#include "app/report.hpp"
#include "core/file.hpp"

namespace footbridge::app {
namespace {

using std::chrono::milliseconds;
using Kind = FileFate::Kind;

constexpr milliseconds kGather{50};  ///< after the first of many events
constexpr milliseconds kShortest{100};
constexpr std::uint32_t kEvents = IN_CLOSE_WRITE | IN_MOVED_TO | IN_DELETE_SELF | IN_MOVE_SELF;

bool json(const config::WatchedFolder& folder) {
  using Format = config::WatchedFolder::Format;
  return folder.format == Format::Json || folder.format == Format::Ndjson ||
         folder.format == Format::Fhir;
}

bool sameFolder(const std::filesystem::path& one, const std::filesystem::path& other) {
  std::error_code ignored;
  return std::filesystem::equivalent(one, other, ignored);
}

}  // namespace

FolderWatch::FolderWatch(config::WatchedFolder folder, FolderSite site)
    : folder_(std::move(folder)),
      site_(std::move(site)),
      events_(::inotify_init1(IN_NONBLOCK | IN_CLOEXEC)),
      stop_(::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)),
      thread_([this] { work(); }) {}

FolderWatch::~FolderWatch() {
  const std::uint64_t one = 1;
  // It cannot fail on a counter that nobody else adds to.
  [[maybe_unused]] const ssize_t told = ::write(stop_, &one, sizeof one);
  thread_.join();
  if (events_ >= 0) ::close(events_);
  ::close(stop_);
}

bool FolderWatch::stopping() const {
  pollfd asked{stop_, POLLIN, 0};
  return ::poll(&asked, 1, 0) == 1;
}

void FolderWatch::work() {
  while (!stopping()) {
    watchAgain();
    pass();
    wait();
  }
}

/// The folder may have been exchanged, or mounted only now.
void FolderWatch::watchAgain() {
  if (events_ < 0 || watch_ >= 0) return;
  watch_ = ::inotify_add_watch(events_, folder_.path.c_str(), kEvents);
}

void FolderWatch::pass() {
  if (!list()) return;
  for (const std::string& name : finished()) {
    // What cannot be stored now will not be a moment later, and the order shall stay.
    if (stopping() || !handle(name)) return;
  }
  if (std::exchange(troubled_, false)) site_.trouble("");
}

/// Looks at everything that is in the folder. False if it cannot be read.
bool FolderWatch::list() {
  std::error_code failed;
  std::map<std::string, Seen> there;
  std::vector<std::string> claimed;
  std::size_t folders = 0;
  const Clock::time_point now = Clock::now();
  std::filesystem::directory_iterator at(folder_.path, failed);
  for (; !failed && at != std::filesystem::directory_iterator(); at.increment(failed)) {
    const std::string name = at->path().filename().string();
    std::error_code ignored;
    if (nameOfClaimed(name)) claimed.push_back(name);
    if (temporaryName(name)) continue;
    if (at->symlink_status(ignored).type() == std::filesystem::file_type::directory) {
      const bool ours =
          sameFolder(at->path(), folder_.done) || sameFolder(at->path(), folder_.setAside);
      folders += ours ? 0 : 1;
      continue;
    }
    look(name, now, there);
  }
  if (failed) {
    troubled_ = true;
    site_.trouble("The folder cannot be read: " + failed.message() + ".");
    return false;
  }
  for (const std::string& name : claimed) look(giveBack(name), now, there);
  seen_ = std::move(there);
  std::erase_if(renamed_, [this](const std::string& name) { return !seen_.contains(name); });
  if (std::exchange(folders_, folders) != folders) site_.folders(folders);
  return true;
}

void FolderWatch::look(const std::string& name, Clock::time_point now,
                       std::map<std::string, Seen>& there) {
  const std::optional<FileMark> mark = markOf(folder_.path / name);
  if (!mark) return;
  Seen seen{*mark, now};
  const auto before = seen_.find(name);
  if (before != seen_.end() && before->second.mark == *mark) seen.since = before->second.since;
  there.emplace(name, seen);
}

/// Those that did not change for long enough or were put into place whole, the oldest first.
std::vector<std::string> FolderWatch::finished() const {
  std::vector<std::string> out;
  const Clock::time_point now = Clock::now();
  for (const auto& [name, seen] : seen_) {
    if (renamed_.contains(name) || now - seen.since >= folder_.stable) out.push_back(name);
  }
  std::stable_sort(out.begin(), out.end(),
                   [this](const std::string& one, const std::string& other) {
                     return seen_.at(one).mark.changed < seen_.at(other).mark.changed;
                   });
  return out;
}

/// False if the rest has to wait as well.
bool FolderWatch::handle(const std::string& name) {
  const std::optional<FileMark> mark = markOf(folder_.path / name);
  FileBytes file = readFinished(folder_.path / name, folder_.maxBytes);
  if (file.how == FileBytes::How::Later) {
    renamed_.erase(name);
    seen_.at(name).since = Clock::now();
    if (file.issues.empty()) return true;
    troubled_ = true;
    site_.trouble(file.issues.front().text);
    return true;
  }
  FileFate fate{Kind::Refused, std::move(file.issues), 422, "not read"};
  if (file.how == FileBytes::How::Read) fate = site_.take(std::move(file.bytes));
  const bool later = fate.kind == Kind::Later;
  if (!later && !put(name, fate, mark)) return false;
  site_.note(fate);
  if (!later) return true;
  troubled_ = true;
  site_.trouble("What is in a file cannot be stored now.");
  return false;
}

/// Moves a file to where it belongs. Another one may have come in its place since it was looked at:
/// so it is claimed first, under a name that nobody else uses, and what was not read is given back.
bool FolderWatch::put(const std::string& name, const FileFate& fate,
                      const std::optional<FileMark>& mark) {
  const bool well = fate.kind == Kind::Taken;
  const std::filesystem::path& into = well ? folder_.done : folder_.setAside;
  const std::string claimed = claimedName(name);
  std::error_code ignored;  // if it failed, so does the move, which says why
  std::filesystem::create_directories(into, ignored);
  const std::filesystem::path to = freeName(into, name);
  Issues failed = well ? Issues{} : writeReasons(to, fate);
  if (failed.empty()) failed = moveFile(folder_.path / name, folder_.path / claimed);
  const bool other = failed.empty() && markOf(folder_.path / claimed) != mark;
  if (failed.empty() && !other) failed = moveFile(folder_.path / claimed, to);
  if (other || !failed.empty()) giveBack(claimed);
  if (failed.empty()) {
    if (!other) seen_.erase(name);  // else it is looked at soon
    renamed_.erase(name);
    return true;
  }
  troubled_ = true;
  site_.trouble(failed.front().text);
  return false;
}

/// Where it was claimed, by this run or one that ended in between, it is a file like any other
/// again, by the name that is given. That we renamed it does not say that it is whole.
std::string FolderWatch::giveBack(const std::string& claimed) {
  const std::filesystem::path to = freeName(folder_.path, *nameOfClaimed(claimed));
  moveFile(folder_.path / claimed, to);
  drainEvents();
  std::string name = to.filename().string();
  renamed_.erase(name);
  return name;
}

/// They go first: a file that was set aside is never without them.
Issues FolderWatch::writeReasons(const std::filesystem::path& beside, const FileFate& fate) const {
  std::filesystem::path reasons = beside;
  reasons += json(folder_) ? ".issues.json" : ".issues.txt";
  std::ostringstream text;
  if (json(folder_)) {
    text << operationOutcome(fate.issues) << "\n";
  } else {
    for (const Issue& issue : fate.issues) printIssue(text, issue);
  }
  if (writeFileAtomically(reasons, text.str()).empty()) return {};
  return {{Severity::Error, IssueType::NoStore, "folder", "",
           "Reasons cannot be written to " + folder_.setAside.string() + ".",
           "See that this user may write there and that the disk has room."}};
}

/// Until something happens in the folder, or it is time to look without being told.
void FolderWatch::wait() {
  milliseconds most = folder_.poll;
  if (!seen_.empty() && !troubled_) {
    most = std::clamp(milliseconds(folder_.stable) / 4, kShortest, most);
  }
  std::array<pollfd, 2> asked{pollfd{stop_, POLLIN, 0}, pollfd{events_, POLLIN, 0}};
  if (::poll(asked.data(), events_ < 0 ? 1 : 2, static_cast<int>(most.count())) < 1) return;
  if (asked[0].revents != 0) return;
  std::this_thread::sleep_for(kGather);
  drainEvents();
}

void FolderWatch::drainEvents() {
  std::array<char, 16'384> bytes{};
  ssize_t got = 0;
  while ((got = ::read(events_, bytes.data(), bytes.size())) > 0) {
    for (std::size_t at = 0; at + sizeof(inotify_event) <= static_cast<std::size_t>(got);) {
      inotify_event event{};
      std::memcpy(&event, bytes.data() + at, sizeof event);
      const char* name = bytes.data() + at + sizeof event;
      if ((event.mask & IN_MOVED_TO) != 0 && event.len > 0) renamed_.emplace(name);
      if ((event.mask & (IN_DELETE_SELF | IN_MOVE_SELF | IN_IGNORED)) != 0) watch_ = -1;
      at += sizeof event + event.len;
    }
  }
}

}  // namespace footbridge::app
