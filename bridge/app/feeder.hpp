#pragma once
// Makes bundles ahead of a sender, in threads of its own: the one that sends has enough to do with
// sending.

#include <condition_variable>
#include <cstdint>
#include <deque>
#include <map>
#include <mutex>
#include <thread>
#include <unordered_set>
#include <vector>

#include "deliver/sender.hpp"
#include "outbox/outbox.hpp"

namespace footbridge::app {

class Feeder {
 public:
  explicit Feeder(outbox::Outbox& outbox);
  ~Feeder();
  Feeder(const Feeder&) = delete;
  Feeder& operator=(const Feeder&) = delete;

  /// More to send, in this order; by any thread. Forgotten while there is no sender: whoever begins
  /// one looks into the outbox.
  void give(std::vector<deliver::Job> jobs);

  /// From now on what is given is kept for a sender, which will be told of it by feed().
  void expect();

  /// Feeds this sender until end(), without what it was told of already.
  void feed(deliver::Sender& sender, std::unordered_set<std::int64_t> told);
  void end();

  /// The sender has tried that row.
  void tried(std::int64_t id);

 private:
  struct Group {
    std::uint64_t turn = 0;
    std::uint64_t run = 0;  ///< of the sender it was taken for
    std::vector<deliver::Job> jobs;
  };
  void work();
  void feedSome(std::unique_lock<std::mutex>& lock);
  void passAll();
  Group takeFirst(std::size_t count);
  void hand(Group group);
  void make(deliver::Job& job) const;
  bool hasRoom() const;

  outbox::Outbox& outbox_;
  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<deliver::Job> queue_;
  std::size_t bytes_ = 0;                   ///< of what came along with those in the queue
  std::unordered_set<std::int64_t> ahead_;  ///< taken for the sender, and not tried yet
  std::uint64_t tries_ = 0;                 ///< of those
  std::unordered_set<std::int64_t> told_;   ///< the sender knows them without us
  deliver::Sender* sender_ = nullptr;       ///< that is fed
  std::uint64_t run_ = 0;                   ///< counts senders
  std::uint64_t taken_ = 0;                 ///< groups taken from the queue
  std::uint64_t handed_ = 0;                ///< of these, those that went on, in their order
  std::map<std::uint64_t, Group> made_;     ///< by turn: sooner than one that was taken before
  bool expecting_ = false;
  bool ending_ = false;
  std::vector<std::jthread> makers_;
};

}  // namespace footbridge::app
