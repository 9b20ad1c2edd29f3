#pragma once
// Inputs of one run of `send` on their way into the outbox.

#include <functional>

#include "app/commands.hpp"
#include "app/entries.hpp"
#include "app/lanes.hpp"
#include "app/pipeline.hpp"
#include "app/receipts.hpp"
#include "app/set_aside.hpp"
#include "config/config.hpp"
#include "deliver/lanes.hpp"
#include "deliver/stop_signal.hpp"
#include "outbox/outbox.hpp"

namespace footbridge::app {

/// What one run of `send` works with.
struct Run {
  const SendOptions& options;
  World& world;
  const config::Config& config;
  const config::Destination& to;
  outbox::Outbox& outbox;
  const deliver::StopSignal& stop;
  Receipts receipts;
  std::size_t setAside = 0;
  std::size_t heldAtOnce = 0;
  Issues failures;
};

/// Converts inputs and stores them in groups; hands over what is new.
class Queue {
 public:
  using Give = std::function<void(std::vector<deliver::Job>)>;

  Queue(Run& run, Give give);

  /// One input that was read and the bundle made of it: stored with its group, or set aside with
  /// its reasons.
  void take(Done& done);

  /// How the bundles are to be made.
  const package::BundleOptions& options() const { return maker_.options(); }

  /// Stores the group as it is. What is new is acknowledged by this.
  void store();

  /// The last group, and the last of what was set aside.
  void finish();

 private:
  /// What is stored, and the bundle if that is known and not what is stored.
  struct Waiting {
    outbox::Entry entry;
    std::string bundle;
  };

  void push(Done& done);
  void complete(outbox::Entry& entry, const Assessment& assessment);

  Run& run_;
  Give give_;
  EntryMaker maker_;
  SetAside setAside_;
  std::vector<Waiting> waiting_;
};

}  // namespace footbridge::app
