#pragma once
// What goes into the outbox and comes out of it, as plain values.

#include <chrono>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>

#include "core/result.hpp"

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

/// All of an entry that can be made before the store is locked: keyed hashes, and its label and
/// bundle squeezed and sealed.
struct Sealed {
  std::string key;
  std::string visit;
  std::string lane;
  std::string digest;
  std::string label;
  std::string body;
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
  std::string lane{};  ///< that of an earlier row, where the patient is known by it only; else ""
  std::string hold{};  ///< why a person has to look before it is sent; "" if nobody has to
  /// By EntrySealer, once nothing else of the entry changes any more; else add() makes it.
  std::optional<Sealed> sealed = std::nullopt;
};

/// What became of an entry that was added.
struct Added {
  enum class How : std::uint8_t {
    New,      ///< stored as ready
    Present,  ///< the same version is here already, of the same source; `state` says how it stands
    Differs,  ///< the same version is here with other content: not stored, nothing overwritten
    Held      ///< stored as held, for the reason that is given
  };
  How how = How::New;
  State state = State::Ready;
  std::int64_t id = 0;
  Time since{};      ///< of `state`
  std::string lane;  ///< see Row
  std::string visit;
  std::string reason;  ///< why it was stored as held
};

/// A message that was taken: its sender and number, and the digest of its bytes. Only keyed hashes
/// are stored, so that another message of the same number can be told from a replay.
struct Message {
  std::string sender;
  std::string number;
  std::string digest;
};

/// What is known of a message.
enum class Heard : std::uint8_t {
  Never,
  Same,  ///< taken before
  Other  ///< another one of that sender bore this number
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
  bool released = false;  ///< by a person, after it was held
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
  std::int64_t after = 0;                    ///< ids above this one
  std::size_t limit = 0;                     ///< 0: all
  std::optional<Time> since = std::nullopt;  ///< in their state since then or later
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

}  // namespace footbridge::outbox
