#pragma once
// A folder into which others put files: tells of each that is finished. What is in a file is not
// looked at.

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <string_view>

namespace footbridge::serve {

struct WatchPlan {
  std::filesystem::path folder;
  /// How long size and time of a file must not change before it counts as finished. One that is
  /// moved in counts at once.
  std::chrono::milliseconds settle{2'000};
  /// Between looks; where the system tells of changes (not on network drives) they are seen sooner.
  std::chrono::milliseconds poll{10'000};
};

/// What became of a file that was handed out.
enum class Taken : std::uint8_t {
  Away,  ///< it is not there any more
  Later  ///< it stays, and is handed out again after a while
};

/// Whom the watch tells. All are called by its thread, one after another.
struct WatchNews {
  /// A finished file, the oldest first. Names hold no folder.
  std::function<Taken(const std::string& name)> take;
  /// Something that is no plain file and will stay: once for each name.
  std::function<void(const std::string& name)> odd;
  /// The folder cannot be read, and why; "" once it can again.
  std::function<void(const std::string& because)> trouble;
};

/// True of the names that programs give to what they are still writing, by common practice: a
/// leading dot or tilde, or one of the endings .tmp .temp .part .partial .filepart .swp ~
bool isUnfinishedName(std::string_view name);

class FolderWatch {
 public:
  FolderWatch(WatchPlan plan, WatchNews news);

  /// Returns once the file that is under way has been dealt with.
  ~FolderWatch();
  FolderWatch(const FolderWatch&) = delete;
  FolderWatch& operator=(const FolderWatch&) = delete;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace footbridge::serve
