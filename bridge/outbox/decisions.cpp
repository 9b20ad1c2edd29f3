// What a person decides about rows, and what time does to them.

#include "outbox/store.hpp"

namespace footbridge::outbox {
namespace {

constexpr const char* kNothing = "There is nothing to do.";

Issue senseless(const Row& row, std::string_view what, const std::string& mend) {
  return {Severity::Error,
          IssueType::BusinessRule,
          "outbox",
          "",
          "Row " + std::to_string(row.id) + " is " + std::string(word(row.state)) +
              " and cannot be " + std::string(what) + ".",
          mend};
}

Issue overtakenIssue(const Row& row) {
  return {Severity::Error,
          IssueType::BusinessRule,
          "outbox",
          "",
          "A higher revision of the assessment of row " + std::to_string(row.id) +
              " was delivered; sending this one would undo it.",
          "Drop the row, or send its readings as a new, higher revision."};
}

Issue movedIssue(const Row& row) {
  return {Severity::Error,
          IssueType::BusinessRule,
          "outbox",
          "",
          "Row " + std::to_string(row.id) + " cannot be sent. " + std::string(kMoved),
          "Drop it once the readings are sent under the other identifier."};
}

}  // namespace

Outbox::Store::Doubt Outbox::Store::doubtOf(const std::string& visit, std::int32_t revision,
                                            const std::string& lane) {
  // Not sorted: a visit has few rows, and a sorter costs more than they do.
  Statement all = database.prepare("SELECT id, revision, state, lane FROM delivery WHERE visit=?1");
  all.blob(1, visit);
  Doubt out;
  std::int64_t first = 0;
  while (all.step()) {
    const State state = stateOf(all.bytes(2)).value_or(State::Held);
    out.late = out.late || (state == State::Delivered && all.integer(1) > revision);
    if (state == State::Refused || (first != 0 && all.integer(0) > first)) continue;
    first = all.integer(0);
    out.moved = all.bytes(3) != lane;
  }
  return out;
}

void Outbox::Store::changeState(std::int64_t id, State state, const std::string& reason, Time now) {
  Statement update =
      database.prepare("UPDATE delivery SET state=?2, reason=?3, due=?4, changed=?4 WHERE id=?1");
  update.bind(1, id).text(2, word(state)).bind(4, count(now));
  if (!reason.empty()) update.blob(3, packer.pack(reason, contextOf("reason", id)));
  update.step();
}

std::optional<Issue> Outbox::Store::doubtAbout(const Row& row) {
  const Doubt doubt = doubtOf(row.visit, row.revision, row.lane);
  if (doubt.late) return overtakenIssue(row);
  if (doubt.moved) return movedIssue(row);
  return std::nullopt;
}

Issues Outbox::Store::decide(std::int64_t id,
                             const std::function<std::optional<Issue>(const Row&)>& speaks,
                             const std::function<void(const Row&)>& change) {
  const std::scoped_lock lock(mutex);
  const Result<Row> found = row(id);
  if (!found) return found.issues();
  if (const std::optional<Issue> against = speaks(*found)) return {*against};
  return transaction([&] { change(*found); });
}

Issues Outbox::retry(std::int64_t id, Time now) {
  const auto speaks = [&](const Row& row) -> std::optional<Issue> {
    if (row.state == State::Held) return senseless(row, "tried again", "Release it.");
    if (row.state == State::Delivered) return senseless(row, "tried again", kNothing);
    if (row.dropped) {
      return senseless(row, "tried again", "It was dropped: send the assessment again.");
    }
    return state_->doubtAbout(row);
  };
  return state_->decide(id, speaks, [&](const Row& row) {
    state_->database.prepare("UPDATE delivery SET attempts=0, strikes=0 WHERE id=?1")
        .bind(1, id)
        .step();
    state_->changeState(id, State::Ready, row.reason, now);
  });
}

Issues Outbox::release(std::int64_t id, Time now) {
  const auto speaks = [&](const Row& row) -> std::optional<Issue> {
    if (row.state == State::Held) return state_->doubtAbout(row);
    return senseless(row, "released", "Only what is held can be released.");
  };
  return state_->decide(id, speaks, [&](const Row& row) {
    state_->database.prepare("UPDATE delivery SET attempts=0, strikes=0, released=1 WHERE id=?1")
        .bind(1, id)
        .step();
    state_->changeState(id, State::Ready, row.reason, now);
  });
}

/// Keeps the receipt: it says what differed.
Issues Outbox::accept(std::int64_t id, const std::string& because, Time now) {
  const auto speaks = [](const Row& row) -> std::optional<Issue> {
    if (row.state == State::Held && !row.receipt.empty()) return std::nullopt;
    return senseless(row, "accepted",
                     "Only what is held after the record answered can be taken as it is there.");
  };
  return state_->decide(id, speaks, [&](const Row&) {
    state_->changeState(id, State::Delivered, std::string(kAccepted) + because, now);
  });
}

Issues Outbox::drop(std::int64_t id, const std::string& because, Time now) {
  const auto speaks = [](const Row& row) -> std::optional<Issue> {
    if (row.state != State::Delivered && !row.dropped) return std::nullopt;
    return senseless(row, "dropped", kNothing);
  };
  return state_->decide(id, speaks, [&](const Row&) {
    state_->database.prepare("UPDATE delivery SET dropped=1, body=NULL WHERE id=?1")
        .bind(1, id)
        .step();
    state_->changeState(id, State::Refused, "Dropped by a person: " + because, now);
  });
}

Result<std::int64_t> Outbox::erasePayloads(Time deliveredBefore, std::int64_t atMost) {
  return state_->eraseSome(
      "UPDATE delivery SET body=NULL WHERE id IN (SELECT id FROM delivery"
      " WHERE state='delivered' AND body IS NOT NULL AND changed < ?1 LIMIT ?2)",
      deliveredBefore, atMost);
}

Result<std::int64_t> Outbox::erasePayloads(Time deliveredBefore) {
  std::int64_t all = 0;
  while (true) {
    Result<std::int64_t> some = erasePayloads(deliveredBefore, kEraseAtOnce);
    if (!some) return some;
    all += *some;
    if (*some < kEraseAtOnce) return all;
  }
}

Result<std::int64_t> Outbox::Store::eraseSome(std::string_view sql, Time before,
                                              std::int64_t atMost) {
  const std::scoped_lock lock(mutex);
  std::int64_t erased = 0;
  Issues issues = transaction([&] {
    Statement erase = database.prepare(sql);
    erase.bind(1, count(before)).bind(2, atMost).step();
    erased = database.changes();
  });
  if (!issues.empty()) return issues;
  return erased;
}

}  // namespace footbridge::outbox
