#pragma once
// Watched folders: each file that is put there is handed in at the desk, and once all of it is
// stored or set aside, moved away with what there is to say of it.

#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "app/desk.hpp"
#include "config/config.hpp"

namespace footbridge::app {

/// Whom the folders ask and tell; called by their threads.
struct FolderNews {
  std::function<const csv::SourceMap*(std::string_view)> map;
  /// Whether anything may be taken now.
  std::function<bool()> open;
  /// A file was taken: which folder, what became of what was in it.
  std::function<void(const std::string& folder, const Settled& so)> settled;
  /// A folder needs a person, and why, without the names of files; "" once it does not.
  std::function<void(const std::string& folder, const std::string& because)> trouble;
};

class Folders {
 public:
  /// `limit` is the largest file in bytes.
  Folders(const std::vector<config::WatchedFolder>& folders, std::uint64_t limit, Desk& desk,
          FolderNews news);

  /// Ends the files that are under way.
  ~Folders();
  Folders(const Folders&) = delete;
  Folders& operator=(const Folders&) = delete;

 private:
  struct One;
  FolderNews news_;
  std::vector<std::unique_ptr<One>> folders_;
};

}  // namespace footbridge::app
