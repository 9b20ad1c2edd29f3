#include "serve/folder_watch.hpp"

#include <dirent.h>
#include <fcntl.h>
#include <poll.h>
#include <sys/eventfd.h>
#include <sys/inotify.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <climits>
#include <cstring>
#include <map>
#include <set>
#include <system_error>
#include <thread>
#include <tuple>
#include <utility>
#include <vector>

namespace footbridge::serve {
namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;

constexpr milliseconds kGather{100};  ///< after news, before the folder is read for it

/// What tells whether a file was changed.
struct Looks {
  std::uint64_t inode = 0;
  std::int64_t size = 0;
  std::int64_t seconds = 0;
  std::int64_t nanoseconds = 0;
  bool operator==(const Looks&) const = default;
};

struct Seen {
  Looks looks;
  Clock::time_point finished{};  ///< when it will count as finished
};

/// A directory stream that closes itself.
struct Directory {
  explicit Directory(const std::filesystem::path& path) : stream(::opendir(path.c_str())) {}
  ~Directory() {
    if (stream != nullptr) ::closedir(stream);
  }
  Directory(const Directory&) = delete;
  Directory& operator=(const Directory&) = delete;

  DIR* stream;
};

}  // namespace

bool isUnfinishedName(std::string_view name) {
  static constexpr std::array<std::string_view, 7> kEndings{
      ".tmp", ".temp", ".part", ".partial", ".filepart", ".swp", "~"};
  std::string low(name);
  std::transform(low.begin(), low.end(), low.begin(),
                 [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
  return low.starts_with('.') || low.starts_with('~') ||
         std::any_of(kEndings.begin(), kEndings.end(),
                     [&low](std::string_view ending) { return low.ends_with(ending); });
}

struct FolderWatch::State {
  WatchPlan plan;
  WatchNews news;
  int stop = ::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
  int changes = ::inotify_init1(IN_CLOEXEC | IN_NONBLOCK);  ///< -1: only looks tell of changes
  int watched = -1;
  std::map<std::string, Seen> seen;
  std::set<std::string> odd;
  std::set<std::string> movedIn;  ///< since the last look
  bool troubled = false;
  std::jthread thread;

  State(WatchPlan how, WatchNews whom) : plan(std::move(how)), news(std::move(whom)) {}
  ~State() {
    if (thread.joinable()) thread.join();
    ::close(stop);
    if (changes >= 0) ::close(changes);
  }
  State(const State&) = delete;
  State& operator=(const State&) = delete;

  bool stopping() const {
    pollfd asked{stop, POLLIN, 0};
    return ::poll(&asked, 1, 0) == 1;
  }

  void run();
  void follow();
  bool takeChanges();
  void sleep(milliseconds atMost);
  bool read();
  void note(const std::string& name, const struct stat& now);
  void handOut();
  milliseconds untilNext() const;
};

void FolderWatch::State::run() {
  while (!stopping()) {
    follow();
    takeChanges();
    if (read()) handOut();
    sleep(untilNext());
  }
}

/// The folder may come later, or another one take its place: so it is asked for again each time.
void FolderWatch::State::follow() {
  if (changes < 0 || watched >= 0) return;
  watched = ::inotify_add_watch(
      changes, plan.folder.c_str(),
      IN_CLOSE_WRITE | IN_MOVED_TO | IN_DELETE_SELF | IN_MOVE_SELF | IN_ONLYDIR);
}

/// Takes what the system tells; true if there was anything.
bool FolderWatch::State::takeChanges() {
  if (changes < 0) return false;
  alignas(inotify_event) std::array<char, 64 * (sizeof(inotify_event) + NAME_MAX + 1)> buffer{};
  bool any = false;
  for (ssize_t got = 0; (got = ::read(changes, buffer.data(), buffer.size())) > 0;) {
    any = true;
    for (std::size_t at = 0; at < static_cast<std::size_t>(got);) {
      inotify_event event{};
      std::memcpy(&event, buffer.data() + at, sizeof event);
      const char* name = buffer.data() + at + sizeof event;
      if ((event.mask & IN_MOVED_TO) != 0 && event.len > 0) movedIn.insert(name);
      if ((event.mask & (IN_DELETE_SELF | IN_MOVE_SELF | IN_IGNORED)) != 0) watched = -1;
      at += sizeof event + event.len;
    }
  }
  return any;
}

/// Until the time is over, or there is news.
void FolderWatch::State::sleep(milliseconds atMost) {
  std::array<pollfd, 2> asked{{{stop, POLLIN, 0}, {changes, POLLIN, 0}}};
  const int told = ::poll(asked.data(), asked.size(), static_cast<int>(atMost.count()));
  if (told <= 0 || stopping()) return;
  pollfd stopped{stop, POLLIN, 0};
  static_cast<void>(::poll(&stopped, 1, static_cast<int>(kGather.count())));
}

/// Reads the folder. False if that could not be done.
bool FolderWatch::State::read() {
  const Directory directory(plan.folder);
  if (directory.stream == nullptr) {
    if (watched >= 0) ::inotify_rm_watch(changes, std::exchange(watched, -1));
    news.trouble(std::generic_category().message(errno));
    troubled = true;
    return false;
  }
  if (std::exchange(troubled, false)) news.trouble("");
  std::set<std::string> there;
  const int at = ::dirfd(directory.stream);
  while (const dirent* entry = ::readdir(directory.stream)) {
    const std::string name(static_cast<const char*>(entry->d_name));
    struct stat now {};
    if (isUnfinishedName(name) || ::fstatat(at, name.c_str(), &now, AT_SYMLINK_NOFOLLOW) != 0)
      continue;
    if (S_ISDIR(now.st_mode)) continue;
    there.insert(name);
    note(name, now);
  }
  std::erase_if(seen, [&there](const auto& each) { return there.count(each.first) == 0; });
  std::erase_if(odd, [&there](const std::string& each) { return there.count(each) == 0; });
  movedIn.clear();
  return true;
}

void FolderWatch::State::note(const std::string& name, const struct stat& now) {
  if (!S_ISREG(now.st_mode)) {
    if (odd.insert(name).second) news.odd(name);
    return;
  }
  const Looks looks{now.st_ino, now.st_size, now.st_mtim.tv_sec, now.st_mtim.tv_nsec};
  const auto [found, added] = seen.try_emplace(name);
  const bool moved = movedIn.count(name) > 0;
  if (!added && !moved && found->second.looks == looks) return;
  found->second = {looks, Clock::now() + (moved ? milliseconds(0) : plan.settle)};
}

/// The oldest first: a correction that was written after its original is taken after it.
void FolderWatch::State::handOut() {
  const Clock::time_point now = Clock::now();
  std::vector<std::pair<Looks, std::string>> ready;
  for (const auto& [name, each] : seen) {
    if (each.finished <= now) ready.emplace_back(each.looks, name);
  }
  std::sort(ready.begin(), ready.end(), [](const auto& a, const auto& b) {
    return std::tie(a.first.seconds, a.first.nanoseconds, a.second) <
           std::tie(b.first.seconds, b.first.nanoseconds, b.second);
  });
  for (const auto& [looks, name] : ready) {
    if (stopping()) return;
    if (news.take(name) == Taken::Away) {
      seen.erase(name);
    } else {
      seen[name].finished = Clock::now() + plan.poll;
    }
  }
}

milliseconds FolderWatch::State::untilNext() const {
  Clock::time_point next = Clock::now() + plan.poll;
  for (const auto& [name, each] : seen) next = std::min(next, each.finished);
  const auto left = std::chrono::ceil<milliseconds>(next - Clock::now());
  return std::max(left, milliseconds(1));
}

FolderWatch::FolderWatch(WatchPlan plan, WatchNews news)
    : state_(std::make_unique<State>(std::move(plan), std::move(news))) {
  state_->thread = std::jthread([state = state_.get()] { state->run(); });
}

FolderWatch::~FolderWatch() { static_cast<void>(::eventfd_write(state_->stop, 1)); }

}  // namespace footbridge::serve
