#pragma once
// The thread of the desk that stores; not for other parts.

#include <atomic>
#include <condition_variable>
#include <deque>
#include <memory>
#include <mutex>
#include <thread>

#include "app/desk.hpp"
#include "app/entries.hpp"

namespace footbridge::app {

/// A submission while its slices are stored one after another.
struct Ticket {
  std::function<void(Settled)> settled;
  Settled so;
};

/// Some assessments of one submission, converted.
struct Slice {
  struct Owner {
    std::size_t item = 0;
    std::size_t destination = 0;
    /// Of those that withdraw something: what has to be known of it. Else nothing.
    std::optional<Assessment> withdraws = std::nullopt;
  };
  std::vector<Item> items;
  std::vector<outbox::Entry> entries;
  std::vector<Owner> owners;  ///< of each entry
  std::string bundles;
  Issues failures;
  std::optional<outbox::Message> message = std::nullopt;  ///< to be remembered; with the last slice
  std::unique_ptr<Ticket> ticket;  ///< with the last slice: it is answered then
  Ticket* open = nullptr;          ///< the same, for all slices
};

/// Takes what waits and stores it in one transaction: with many clients the cost of a sync to the
/// disk is shared by all that came while the one before was under way. While more is being
/// converted, it waits a little for that, too; a single client never waits.
class DeskWriter {
 public:
  DeskWriter(const DeskPlan& plan, outbox::Outbox& outbox);

  /// A submission is on its way here; or it is not any more, without a slice.
  void expect() { ++coming_; }
  void expectNot() { --coming_; }

  /// Waits while too much is to be stored already.
  void give(Slice slice);

  /// Stores what was given and ends.
  void finish();

 private:
  struct Line {  ///< one entry of the group that is being stored
    Slice* slice = nullptr;
    Slice::Owner owner;
    bool own = true;  ///< false: a withdrawal that another one brought along
  };
  void work();
  bool enough() const;
  void store(std::vector<Slice>& slices);
  void push(Slice& slice, std::size_t entry);
  Issues complete(Slice& slice, std::size_t entry);
  void commit();
  void note(const Line& line, outbox::Entry& entry, const outbox::Added& added);
  void answer(Slice& slice);

  const DeskPlan& plan_;
  outbox::Outbox& outbox_;
  std::vector<outbox::Entry> group_;
  std::vector<outbox::Message> messages_;  ///< that are taken with the group
  std::vector<Slice*> senders_;            ///< of each of them
  std::vector<Line> lines_;
  std::vector<std::vector<deliver::Job>> jobs_;  ///< by destination

  std::atomic<std::size_t> coming_ = 0;  ///< submissions whose last slice was not given yet
  std::mutex mutex_;
  std::condition_variable wake_;
  std::condition_variable room_;
  std::deque<Slice> given_;
  std::size_t rows_ = 0;  ///< entries in given_
  bool ending_ = false;
  std::jthread thread_;
};

}  // namespace footbridge::app
