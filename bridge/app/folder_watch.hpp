#pragma once
// A folder whose files are taken in as they are finished: each is handed over, and moved only once
// what came of it is on the disk. After a crash it is handed over again, which changes nothing.

#include <chrono>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include "app/folder_files.hpp"
#include "config/config.hpp"
#include "core/result.hpp"

namespace footbridge::app {

/// What became of a file.
struct FileFate {
  enum class Kind : std::uint8_t {
    Taken,    ///< all of it is stored: it goes to `done`
    Refused,  ///< something of it was refused: it goes to `set_aside`, with the issues
    Later     ///< could not be stored now: it stays
  };
  Kind kind = Kind::Later;
  Issues issues;
  int status = 503;   ///< as HTTP would say it
  std::string about;  ///< for the trail
};

/// What is behind a folder. All are called by its thread.
struct FolderSite {
  /// Stores what is in a file, durably, before it returns.
  std::function<FileFate(std::string bytes)> take;

  /// Is told of every file that was taken or refused, and of those that have to wait.
  std::function<void(const FileFate&)> note;

  /// Folder or files cannot be had or moved, for that reason; "" once it is over.
  std::function<void(const std::string& because)> trouble;

  /// Of so many sub-folders nothing is taken; told when the number changes.
  std::function<void(std::size_t)> folders;
};

class FolderWatch {
 public:
  FolderWatch(config::WatchedFolder folder, FolderSite site);

  /// Finishes the file that is under way; the others stay.
  ~FolderWatch();
  FolderWatch(const FolderWatch&) = delete;
  FolderWatch& operator=(const FolderWatch&) = delete;

 private:
  using Clock = std::chrono::steady_clock;
  struct Seen {
    FileMark mark;
    Clock::time_point since{};
  };
  void work();
  void pass();
  bool list();
  void look(const std::string& name, Clock::time_point now, std::map<std::string, Seen>& there);
  std::vector<std::string> finished() const;
  bool handle(const std::string& name);
  bool put(const std::string& name, const FileFate& fate, const std::optional<FileMark>& mark);
  Issues writeReasons(const std::filesystem::path& beside, const FileFate& fate) const;
  std::string giveBack(const std::string& claimed);
  void wait();
  void watchAgain();
  void drainEvents();
  bool stopping() const;

  config::WatchedFolder folder_;
  FolderSite site_;
  std::map<std::string, Seen> seen_;
  std::set<std::string> renamed_;  ///< put into place whole, by what the system told
  std::size_t folders_ = 0;
  bool troubled_ = false;
  int events_ = -1;
  int watch_ = -1;
  int stop_ = -1;
  std::thread thread_;
};

}  // namespace footbridge::app
