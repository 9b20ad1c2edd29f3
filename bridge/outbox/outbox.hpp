#pragma once
// The durable queue between Footbridge and its destinations: one row for each assessment version
// and destination. What add() acknowledged survives a crash or a power cut, and leaves a row only
// as delivered, or by a person's decision.

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/result.hpp"
#include "core/seal.hpp"
#include "outbox/types.hpp"

namespace footbridge::outbox {

/// Why rows are held at once.
inline constexpr std::string_view kLate =
    "A higher revision of this assessment was delivered before this one came.";
inline constexpr std::string_view kMoved =
    "An earlier revision of this assessment is in the record of another patient, and readings are "
    "never moved from one patient to another. Withdraw the earlier one (`outbox withdraw`), send "
    "these readings as a new assessment with an identifier of its own that names in `replaces` the "
    "one it replaces, and drop this row.";

/// How the reason of a row begins that a person took as the record had it.
inline constexpr std::string_view kAccepted = "Accepted by a person: ";

/// Every function may be called by any thread.
class Outbox {
 public:
  /// Opens or creates the file; brings an older one up to date. Issues of type NoStore if it cannot
  /// be used, is in use by another process, or was sealed with another key. What is added stays
  /// below `maxBytes` (0: no cap), what is told of it below twice as much.
  static Result<Outbox> open(const std::filesystem::path& file, Sealer sealer,
                             std::uint64_t maxBytes);

  /// Stores all entries in one transaction. Only once this returns without issues are they
  /// acknowledged; with issues none of them is stored. What a person dropped and comes again is
  /// another row, and the one before is gone.
  Result<std::vector<Added>> add(std::span<const Entry> entries, Time now);

  /// The same, and remembers in this transaction that these messages were taken.
  Result<std::vector<Added>> add(std::span<const Entry> entries, std::span<const Message> messages,
                                 Time now);

  /// Whether a message was taken before.
  Result<Heard> heard(const Message& message);

  /// Forgets messages that came before, at most so many. Gives their number.
  Result<std::int64_t> forgetMessages(Time before, std::int64_t atMost);

  /// Some milliseconds of work.
  static constexpr std::int64_t kEraseAtOnce = 500;

  /// Notes what became of rows, in one transaction. What a person dropped meanwhile stays dropped.
  Issues settle(std::span<const Mark> marks, Time now);

  /// Rows in the order of their arrival.
  Result<std::vector<Row>> list(const Filter& filter);
  Result<Row> find(std::int64_t id);

  /// The row of one version of an assessment for a destination, if there is one.
  Result<std::optional<Row>> version(const std::string& destination, const std::string& system,
                                     const std::string& value, std::int32_t revision);

  /// What is not delivered, without what a person dropped.
  Result<std::vector<Backlog>> backlog();

  /// True if so little is left below the cap that entries may not be taken any more.
  bool full();

  /// Sets how bundles are made of what is stored; before anything else is called. Without it they
  /// are stored as they are.
  void unfoldBy(Unfold unfold);

  /// The bundle of something that was given to add() as one.
  Result<std::string> unfold(std::string stored) const;

  /// The bundle of a row. NotFound if it was erased after delivery, Exception if it was damaged.
  Result<std::string> payload(std::int64_t id);

  /// The highest revision of the entry's assessment below its own that is, or may be, at the
  /// destination: delivered, ready or held. Not one that was held as another patient's.
  Result<std::optional<Row>> earlier(const Entry& entry);

  /// The highest revision of that visit in any state; 0 for none.
  Result<std::int32_t> lastRevision(const std::string& visit);

  /// The highest revision of that visit below this one that was delivered.
  Result<std::optional<Row>> deliveredBefore(const std::string& visit, std::int32_t revision);

  /// A person's decisions. Each is an issue if the row is in a state where it makes no sense.
  Issues retry(std::int64_t id, Time now);    ///< ready or refused: ready at once, tries start anew
  Issues release(std::int64_t id, Time now);  ///< held: ready at once
  Issues drop(std::int64_t id, const std::string& because, Time now);  ///< refused, payload erased

  Issues accept(std::int64_t id, const std::string& because,
                Time now);  ///< held: delivered as it is

  /// Erases payloads of what was delivered before, at most so many, since nothing can be stored
  /// meanwhile. The rows stay, so that a late duplicate is still recognised. Gives the number of
  /// payloads.
  Result<std::int64_t> erasePayloads(Time deliveredBefore, std::int64_t atMost);

  /// The same until there are none left.
  Result<std::int64_t> erasePayloads(Time deliveredBefore);

  ~Outbox();
  Outbox(Outbox&&) noexcept;
  Outbox& operator=(Outbox&&) = delete;

 private:
  friend class EntrySealer;
  struct Store;
  explicit Outbox(std::unique_ptr<Store> state);
  std::unique_ptr<Store> state_;
};

class Packer;

/// Seals entries before they are given to add(), so that several threads can share that work. One
/// for each thread; the outbox has to outlive it.
class EntrySealer {
 public:
  explicit EntrySealer(const Outbox& outbox);
  ~EntrySealer();

  void seal(Entry& entry);

 private:
  const Sealer& sealer_;
  std::unique_ptr<Packer> packer_;
};

}  // namespace footbridge::outbox
