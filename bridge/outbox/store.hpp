#pragma once
// What the parts of Outbox share; not for other folders.

#include <functional>
#include <mutex>

#include "outbox/outbox.hpp"
#include "outbox/packing.hpp"
#include "outbox/sql.hpp"

namespace footbridge::outbox {

inline std::int64_t count(Time time) { return time.time_since_epoch().count(); }
inline Time timeOf(std::int64_t count) { return Time(std::chrono::milliseconds(count)); }

struct Outbox::Store {
  class Adder;

  Sealer sealer;
  Database database;
  Packer packer{sealer};
  Unfold unfold;           ///< may be empty
  std::mutex mutex;        ///< around the database and the packer
  std::uint64_t maxBytes;  ///< what is taken in stays below that; 0: no cap

  Store(Sealer key, Database opened, std::uint64_t most)
      : sealer(std::move(key)), database(std::move(opened)), maxBytes(most) {
    leaveRoom();
  }

  /// Receipts and decisions may take as much again: were there no room for them, what was taken in
  /// could never be told to have arrived.
  void leaveRoom() { database.cap(2 * maxBytes); }

  /// Runs `work` between BEGIN and COMMIT; rolled back if anything failed.
  template <class Work>
  Issues transaction(Work&& work) {
    Issues issues = database.run("BEGIN IMMEDIATE");
    if (!issues.empty()) return issues;
    work();
    issues = database.takeFailure();
    if (issues.empty()) issues = database.run("COMMIT");
    // A failed statement may have rolled back by itself; then this one has nothing to do.
    if (!issues.empty()) database.run("ROLLBACK");
    return issues;
  }

  Result<std::string> stored(std::int64_t id);
  /// The row that a statement meets first, which selects what a row is read of.
  Result<std::optional<Row>> first(Statement& select);
  Result<Row> row(std::int64_t id);
  /// Looks at a row and changes it, with nothing in between. `speaks` gives the issue that speaks
  /// against it, if there is one.
  Issues decide(std::int64_t id, const std::function<std::optional<Issue>(const Row&)>& speaks,
                const std::function<void(const Row&)>& change);
  /// The issue that speaks against sending this row.
  std::optional<Issue> doubtAbout(const Row& row);
  /// What speaks against sending a row of this visit.
  struct Doubt {
    bool late = false;   ///< a higher revision was delivered
    bool moved = false;  ///< a revision is, or may be, in the record of another patient
  };
  /// By one look at the rows of the visit, among which that row may be already.
  Doubt doubtOf(const std::string& visit, std::int32_t revision, const std::string& lane);
  /// Within a transaction: these messages were taken.
  void remember(std::span<const Message> messages, Time now);
  /// Runs a statement about what is older than ?1, for ?2 rows at most; gives how many it met.
  Result<std::int64_t> eraseSome(std::string_view sql, Time before, std::int64_t atMost);
  void changeState(std::int64_t id, State state, const std::string& reason, Time now);
};

/// "reason/17": what a sealed text of a row is bound to.
inline std::string contextOf(std::string_view column, std::int64_t id) {
  return std::string(column) + "/" + std::to_string(id);
}

}  // namespace footbridge::outbox
