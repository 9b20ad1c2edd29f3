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

namespace footbridge::outbox {

using Time = std::chrono::sys_time<std::chrono::milliseconds>;

/// Ready: is yet to be sent, perhaps again. Delivered: the destination has it. Refused: the
/// destination will not have these bytes. Held: waits for a person. There is no other state: that
/// something is being sent right now is not stored, so a crash means "send again".
enum class State : std::uint8_t { Ready, Delivered, Refused, Held };

/// What has to be done with a ready row next.
enum class Step : std::uint8_t {
  Send,    ///< send it (again)
  Confirm  ///< the destination took it without saying that it is stored: look for it
};

/// "ready", "delivered", "refused" or "held".
std::string_view word(State state);
std::optional<State> stateOf(std::string_view word);

/// Whose readings they are, as far as the record's patient has to be compared with it. Sealed in
/// the store.
struct Person {
  enum class Check : std::uint8_t {
    None,  ///< the receiver finds the patient
    MustExist,
    MayExist  ///< else the bundle creates the patient
  };
  Check check = Check::None;
  std::string system;
  std::string value;
  std::string query;      ///< both as the value of a search, percent-encoded
  std::string birthDate;  ///< "" if not known
  std::string family;     ///< "" if not known
};

/// One assessment version on its way to one destination.
struct Entry {
  std::string destination;
  std::string system;  ///< of the assessment's identifier
  std::string value;
  std::int32_t revision = 1;
  std::string patient;       ///< its identifier; only a keyed hash of it is stored, for the order
  std::string sourceDigest;  ///< of the bytes the assessment was read from
  std::string bundle;
  std::int32_t resources = 0;  ///< entries of the bundle; 0: not known yet
  Person person;
};

/// What became of an entry that was added.
struct Added {
  enum class How : std::uint8_t {
    New,      ///< stored as ready
    Present,  ///< the same version is here already, of the same source; `state` says how it stands
    Differs,  ///< the same version is here with other content: not stored, nothing overwritten
    Late      ///< stored as held: a higher revision was delivered before
  };
  How how = How::New;
  State state = State::Ready;
  std::int64_t id = 0;
  Time since{};      ///< of `state`
  std::string lane;  ///< see Row
  std::string visit;
};

/// A row as people and the sender see it, without its payload.
struct Row {
  std::int64_t id = 0;
  std::string destination;
  std::string system;
  std::string value;
  std::int32_t revision = 1;
  std::string lane;   ///< equal for rows whose order matters: those of one patient
  std::string visit;  ///< equal for the revisions of one assessment
  State state = State::Ready;
  Step step = Step::Send;
  bool dropped = false;  ///< refused by a person, not by the destination
  std::int32_t attempts = 0;
  std::int32_t strikes = 0;  ///< answers in a row after which not everything may be tried for ever
  std::int32_t resources = 0;
  Time due{};
  Time created{};
  Time changed{};
  std::string reason;   ///< why it is not delivered yet, or not at all
  std::string receipt;  ///< JSON: what the destination answered for each resource
  Person person;
  bool payloadKept = true;
};

/// What the sender found out about a row.
struct Mark {
  std::int64_t id = 0;
  State state = State::Ready;
  Step step = Step::Send;
  std::int32_t attempts = 0;
  Time due{};
  std::string reason;
  std::string receipt;
  std::int32_t strikes = 0;
  std::int32_t resources = 0;  ///< 0: as noted before
};

/// Which rows; empty parts do not narrow.
struct Filter {
  std::string destination;
  std::optional<State> state;
  std::int64_t after = 0;  ///< ids above this one
  std::size_t limit = 0;   ///< 0: all
};

/// Rows of one destination in one state.
struct Backlog {
  std::string destination;
  State state = State::Ready;
  std::int64_t rows = 0;
  Time oldest{};  ///< when the oldest of them came
};

/// What makes the bundle of what is stored of one, for those that are not stored as they are sent.
using Unfold = std::function<Result<std::string>(std::string stored)>;

/// One thread at a time may call add() or make decisions, while others call the rest.
class Outbox {
 public:
  /// Opens or creates the file; brings an older one up to date. Issues of type NoStore if it cannot
  /// be used, is in use by another process, or was sealed with another key.
  static Result<Outbox> open(const std::filesystem::path& file, Sealer sealer,
                             std::uint64_t maxBytes);

  /// Stores all entries in one transaction. Only once this returns without issues are they
  /// acknowledged; with issues none of them is stored.
  Result<std::vector<Added>> add(std::span<const Entry> entries, Time now);

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

  /// Sets how bundles are made of what is stored; before anything else is called. Without it they
  /// are stored as they are.
  void unfoldBy(Unfold unfold);

  /// The bundle of something that was given to add() as one.
  Result<std::string> unfold(std::string stored) const;

  /// The bundle of a row. NotFound if it was erased after delivery, Exception if it was damaged.
  Result<std::string> payload(std::int64_t id);

  /// The highest revision of the entry's assessment below its own that is, or may be, at the
  /// destination: delivered, ready or held.
  Result<std::optional<Row>> earlier(const Entry& entry);

  /// A person's decisions. Each is an issue if the row is in a state where it makes no sense.
  Issues retry(std::int64_t id, Time now);    ///< ready or refused: ready at once, tries start anew
  Issues release(std::int64_t id, Time now);  ///< held: ready at once
  Issues drop(std::int64_t id, const std::string& because, Time now);  ///< refused, payload erased

  /// Erases the payloads of what was delivered before. The rows stay, so that a late duplicate is
  /// still recognised. Gives the number of payloads.
  Result<std::int64_t> erasePayloads(Time deliveredBefore);

  ~Outbox();
  Outbox(Outbox&&) noexcept;
  Outbox& operator=(Outbox&&) = delete;

 private:
  struct Store;
  explicit Outbox(std::unique_ptr<Store> state);
  std::unique_ptr<Store> state_;
};

}  // namespace footbridge::outbox
