#pragma once
// From the outbox to a record server: in order for each patient, side by side for different ones,
// again after faults that pass, and every row in the state that the last answer means.

#include <functional>
#include <memory>

#include "deliver/lanes.hpp"
#include "deliver/pace.hpp"

namespace footbridge::deliver {

/// What became of a row, told once it is stored.
struct Event {
  std::int64_t id = 0;
  outbox::State state = outbox::State::Ready;  ///< Ready: will be tried again
  std::int32_t attempts = 0;
  std::string reason;
  std::size_t created = 0;
  std::size_t present = 0;
  std::string request = {};  ///< X-Request-Id of the last try, "" if nothing was sent
};

/// How a run ended.
struct Outcome {
  std::size_t delivered = 0;
  std::size_t refused = 0;
  std::size_t held = 0;
  std::size_t left = 0;      ///< still ready
  bool unreachable = false;  ///< something is left and nothing was ever answered
  bool stopped = false;      ///< by a signal
  std::string because;       ///< why it ended with something left, "" otherwise
  Issues failures;           ///< of the outbox: then nothing more was sent
};

class Sender {
 public:
  /// `tell` is called by the thread of run(). `stopDescriptor`: see Transport.
  Sender(const config::Server& server, Patience patience, outbox::Outbox& outbox,
         std::function<void(const Event&)> tell, int stopDescriptor);
  ~Sender();
  Sender(const Sender&) = delete;
  Sender& operator=(const Sender&) = delete;

  /// Whom to tell what is amiss though it is sent, such as scopes that were not granted; each once.
  /// Before run(), which calls it. Of what a server said it holds nothing.
  void warnBy(std::function<void(const std::string&)> warn);

  /// More to send; by any thread.
  void give(std::vector<Job> jobs);

  /// Waits while so many bundles are kept in memory that those of the next jobs might be dropped,
  /// and have to be made again. Not for a sender that does not get on: what was given is in the
  /// outbox. For the one thread that gives and may wait; never while a client waits for its answer.
  void waitForRoom();

  /// Nothing more will be given; by any thread.
  void finish();

  /// Sends until everything given is settled, or nothing moves any more, or a signal came.
  Outcome run();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace footbridge::deliver
