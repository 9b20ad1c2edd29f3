#pragma once
// What `send` says of each assessment, from two threads.

#include <map>
#include <mutex>
#include <string>
#include <vector>

#include "app/commands.hpp"
#include "app/pipeline.hpp"
#include "deliver/sender.hpp"

namespace footbridge::app {

/// What a receipt is about.
struct Sent {
  Identifier assessment;
  std::int32_t revision = 1;
};

/// Prints receipts to standard output, one a line, and keeps count. Every function may be called by
/// any thread.
class Receipts {
 public:
  Receipts(const SendOptions& options, World& world) : options_(options), world_(world) {}

  /// Whose row this is; before anything is told of it.
  void know(std::int64_t id, Sent sent);

  /// An input's remarks, as they arise.
  void remark(const Outcome& outcome);

  /// What was found when it was queued: that it is there already, differs, or is held.
  void queued(const outbox::Added& added, const Sent& sent);

  /// What became of a row.
  void tell(const deliver::Event& event);

  std::size_t notDelivered() const { return notDelivered_; }

 private:
  void line(std::int64_t id, const Sent& sent, const deliver::Event& event,
            std::string_view already);

  const SendOptions& options_;
  World& world_;
  std::mutex mutex_;
  std::map<std::int64_t, Sent> known_;
  std::size_t notDelivered_ = 0;  ///< found so when queued; events are counted by the sender
};

}  // namespace footbridge::app
