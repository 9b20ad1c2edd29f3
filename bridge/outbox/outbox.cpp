#include "outbox/outbox.hpp"

#include <algorithm>
#include <array>
#include <deque>

#include "json/value.hpp"
#include "outbox/schema.hpp"
#include "outbox/sealing.hpp"
#include "outbox/store.hpp"

namespace footbridge::outbox {
namespace {

constexpr std::array<std::string_view, 4> kStates{"ready", "delivered", "refused", "held"};

constexpr std::string_view kColumns =
    "SELECT id, destination, revision, lane, visit, state, step, dropped, attempts, resources, due,"
    " created, changed, reason, receipt, body IS NOT NULL, label, key, strikes, released FROM "
    "delivery ";

void readLabel(Row& row, const std::string& label) {
  const Result<json::Value> value = json::read(label);
  if (!value) return;
  row.system = value->text("system");
  row.value = value->text("value");
  const json::Value* person = value->member("person");
  const json::Value* check = person == nullptr ? nullptr : person->member("check");
  if (check == nullptr || check->asNumber() == nullptr) return;
  const std::string& digit = check->asNumber()->text;
  if (digit == "1") row.person.check = Person::Check::MustExist;
  if (digit == "2") row.person.check = Person::Check::MayExist;
  row.person.system = person->text("system");
  row.person.value = person->text("value");
  row.person.query = person->text("query");
  row.person.birthDate = person->text("birthDate");
  row.person.family = person->text("family");
}

Row readRow(const Statement& from, Packer& packer) {
  Row row;
  row.id = from.integer(0);
  row.destination = from.bytes(1);
  row.revision = static_cast<std::int32_t>(from.integer(2));
  row.lane = from.bytes(3);
  row.visit = from.bytes(4);
  row.state = stateOf(from.bytes(5)).value_or(State::Held);
  row.step = from.bytes(6) == "confirm" ? Step::Confirm : Step::Send;
  row.dropped = from.integer(7) != 0;
  row.attempts = static_cast<std::int32_t>(from.integer(8));
  row.resources = static_cast<std::int32_t>(from.integer(9));
  row.due = timeOf(from.integer(10));
  row.created = timeOf(from.integer(11));
  row.changed = timeOf(from.integer(12));
  if (!from.isNull(13)) {
    row.reason = packer.unpack(from.bytes(13), contextOf("reason", row.id)).value_or("(damaged)");
  }
  if (!from.isNull(14)) {
    row.receipt = packer.unpack(from.bytes(14), contextOf("receipt", row.id)).value_or("");
  }
  row.payloadKept = from.integer(15) != 0;
  row.strikes = static_cast<std::int32_t>(from.integer(18));
  row.released = from.integer(19) != 0;
  readLabel(row, packer.unpack(from.bytes(16), "label/" + from.bytes(17)).value_or("{}"));
  return row;
}

/// The state stands in the text, since only then is the index of what is ready used.
std::string selectFor(const Filter& filter) {
  std::string out(kColumns);
  out += "WHERE id > ?1 AND ";
  out += filter.destination.empty() ? "?2 = ''" : "destination = ?2";
  if (filter.state) ((out += " AND state = '") += word(*filter.state)) += "'";
  // True of all that is ready, and what the index asks for.
  if (filter.state == State::Ready) out += " AND state <> 'delivered' AND dropped = 0";
  if (filter.since)
    out += " AND changed >= " + std::to_string(filter.since->time_since_epoch().count());
  return out + " ORDER BY id LIMIT ?3";
}

Issue notFound(std::int64_t id) {
  return {Severity::Error,
          IssueType::NotFound,
          "outbox",
          "",
          "There is no row " + std::to_string(id) + " in the outbox.",
          "`footbridge outbox list` shows the rows there are."};
}

}  // namespace

std::string_view word(State state) { return kStates[static_cast<std::size_t>(state)]; }

std::optional<State> stateOf(std::string_view word) {
  const auto found = std::find(kStates.begin(), kStates.end(), word);
  if (found == kStates.end()) return std::nullopt;
  return static_cast<State>(found - kStates.begin());
}

Outbox::Outbox(std::unique_ptr<Store> state) : state_(std::move(state)) {}
Outbox::~Outbox() = default;
Outbox::Outbox(Outbox&&) noexcept = default;

Result<Outbox> Outbox::open(const std::filesystem::path& file, Sealer sealer,
                            std::uint64_t maxBytes) {
  Result<Database> database = Database::open(file);
  if (!database) return std::move(database).issues();
  if (Issues issues = migrate(*database); !issues.empty()) return issues;
  // Not before: taking over an earlier format needs room for a while.
  if (Issues issues = database->cap(maxBytes); !issues.empty()) return issues;
  const std::string mine = sealer.keyedHash("key check");
  const std::optional<std::string> theirs =
      database->ask("SELECT value FROM meta WHERE name='key-check'");
  if (theirs && *theirs != mine) {
    return Issue{Severity::Fatal,
                 IssueType::NoStore,
                 "outbox",
                 "",
                 "The outbox " + file.string() + " was sealed with another key.",
                 "Put back the key file it was made with, or set key_file to it."};
  }
  if (!theirs) {
    Statement insert = database->prepare("INSERT INTO meta VALUES ('key-check', ?1)");
    insert.blob(1, mine).step();
  }
  if (Issues issues = database->takeFailure(); !issues.empty()) return issues;
  return Outbox(std::make_unique<Store>(std::move(sealer), *std::move(database)));
}

/// Adds entries inside a transaction, with statements prepared once for all of them.
class Outbox::Store::Adder {
 public:
  explicit Adder(Store& store)
      : known_(store.database.prepare(
            "SELECT id, revision, state, digest, changed, dropped FROM delivery WHERE visit=?1")),
        insert_(store.database.prepare(
            "INSERT INTO delivery (key, destination, visit, revision, lane, digest, resources,"
            " state, due, created, changed, label, body)"
            " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, 'ready', ?8, ?8, ?8, ?9, ?10)")),
        revive_(store.database.prepare(
            "UPDATE delivery SET state='ready', step='send', dropped=0, attempts=0, strikes=0, "
            "released=0, digest=?2,"
            " resources=?3, due=?4, changed=?4, label=?5, body=?6, reason=NULL WHERE id=?1")),
        store_(store) {}

  Added add(const Entry& entry, const Sealed& sealed, Time now) {
    const Known known = look(entry, sealed);
    // What a person dropped may come again: that it is sent again is a decision too.
    if (known.version && !known.dropped) return *known.version;
    Added out =
        known.version ? revive(known.version->id, entry, sealed, now) : insert(entry, sealed, now);
    if (known.visit) doubt(out, entry.revision, now);
    return out;
  }

 private:
  /// What is there of a visit.
  struct Known {
    bool visit = false;            ///< some revision of it
    std::optional<Added> version;  ///< this revision
    bool dropped = false;          ///< by a person
  };

  Known look(const Entry& entry, const Sealed& sealed) {
    Known out;
    known_.blob(1, sealed.visit);
    while (known_.step()) {
      out.visit = true;
      if (known_.integer(1) != entry.revision) continue;
      const bool same = known_.bytes(3) == sealed.digest;
      out.version = Added{same ? Added::How::Present : Added::How::Differs,
                          stateOf(known_.bytes(2)).value_or(State::Held),
                          known_.integer(0),
                          timeOf(known_.integer(4)),
                          sealed.lane,
                          sealed.visit};
      out.dropped = known_.integer(5) != 0;
    }
    known_.reset();
    return out;
  }

  /// Holds what must not be sent after what is there.
  void doubt(Added& added, std::int32_t revision, Time now) {
    const Doubt doubt = store_.doubtOf(added.visit, revision, added.lane);
    if (!doubt.late && !doubt.moved) return;
    added.how = doubt.late ? Added::How::Late : Added::How::Moved;
    added.state = State::Held;
    store_.changeState(added.id, State::Held, std::string(doubt.late ? kLate : kMoved), now);
  }

  Added insert(const Entry& entry, const Sealed& sealed, Time now) {
    insert_.blob(1, sealed.key).text(2, entry.destination).blob(3, sealed.visit);
    insert_.bind(4, entry.revision).blob(5, sealed.lane).blob(6, sealed.digest);
    insert_.bind(7, entry.resources).bind(8, count(now));
    insert_.blob(9, sealed.label).blob(10, sealed.body).step();
    insert_.reset();
    return {Added::How::New, State::Ready, store_.database.lastId(), now,
            sealed.lane,     sealed.visit};
  }

  Added revive(std::int64_t id, const Entry& entry, const Sealed& sealed, Time now) {
    revive_.bind(1, id).blob(2, sealed.digest).bind(3, entry.resources).bind(4, count(now));
    revive_.blob(5, sealed.label).blob(6, sealed.body).step();
    revive_.reset();
    return {Added::How::New, State::Ready, id, now, sealed.lane, sealed.visit};
  }

  Statement known_;
  Statement insert_;
  Statement revive_;
  Store& store_;
};

Result<std::vector<Added>> Outbox::add(std::span<const Entry> entries, Time now) {
  return add(entries, {}, now);
}

Result<std::vector<Added>> Outbox::add(std::span<const Entry> entries,
                                       std::span<const Message> messages, Time now) {
  std::deque<Sealed> made;
  std::vector<const Sealed*> ready;
  ready.reserve(entries.size());
  for (const Entry& entry : entries) {
    if (!entry.sealed) made.push_back(sealed(entry, state_->sealer, state_->entryPacker));
    ready.push_back(entry.sealed ? &*entry.sealed : &made.back());
  }
  const std::scoped_lock lock(state_->mutex);
  std::vector<Added> out;
  Issues issues = state_->transaction([&] {
    Store::Adder adder(*state_);
    for (std::size_t i = 0; i < entries.size(); ++i) {
      out.push_back(adder.add(entries[i], *ready[i], now));
    }
    state_->remember(messages, now);
  });
  if (!issues.empty()) return issues;
  return out;
}

Issues Outbox::settle(std::span<const Mark> marks, Time now) {
  const std::scoped_lock lock(state_->mutex);
  return state_->transaction([&] {
    Statement update = state_->database.prepare(
        "UPDATE delivery SET state=?2, step=?3, attempts=?4, due=?5, changed=?6, reason=?7,"
        " receipt=?8, strikes=?9, resources=CASE WHEN ?10 > 0 THEN ?10 ELSE resources END"
        " WHERE id=?1 AND dropped=0");
    for (const Mark& mark : marks) {
      update.bind(1, mark.id).text(2, word(mark.state));
      update.text(3, mark.step == Step::Send ? "send" : "confirm");
      update.bind(4, mark.attempts).bind(5, count(mark.due)).bind(6, count(now));
      update.bind(9, mark.strikes).bind(10, mark.resources);
      if (!mark.reason.empty()) {
        update.blob(7, state_->markPacker.pack(mark.reason, contextOf("reason", mark.id)));
      }
      if (!mark.receipt.empty()) {
        update.blob(8, state_->markPacker.pack(mark.receipt, contextOf("receipt", mark.id)));
      }
      update.step();
      update.reset();
    }
  });
}

Result<std::vector<Row>> Outbox::list(const Filter& filter) {
  const std::scoped_lock lock(state_->mutex);
  Statement select = state_->database.prepare(selectFor(filter));
  select.bind(1, filter.after).text(2, filter.destination);
  select.bind(3, filter.limit == 0 ? -1 : static_cast<std::int64_t>(filter.limit));
  std::vector<Row> out;
  while (select.step()) out.push_back(readRow(select, state_->markPacker));
  if (Issues issues = state_->database.takeFailure(); !issues.empty()) return issues;
  return out;
}

Result<Row> Outbox::find(std::int64_t id) {
  const std::scoped_lock lock(state_->mutex);
  Statement select = state_->database.prepare(std::string(kColumns) + "WHERE id = ?1");
  const bool found = select.bind(1, id).step();
  if (Issues issues = state_->database.takeFailure(); !issues.empty()) return issues;
  if (!found) return notFound(id);
  return readRow(select, state_->markPacker);
}

Result<std::optional<Row>> Outbox::earlier(const Entry& entry) {
  const std::string visit = visitOf(entry.destination, entry.system, entry.value, state_->sealer);
  const std::scoped_lock lock(state_->mutex);
  Statement select = state_->database.prepare(
      std::string(kColumns) +
      "WHERE visit = ?1 AND revision < ?2 AND state <> 'refused' AND lane ="
      " (SELECT lane FROM delivery WHERE visit = ?1 AND state <> 'refused' ORDER BY id LIMIT 1)"
      " ORDER BY revision DESC LIMIT 1");
  const bool found = select.blob(1, visit).bind(2, entry.revision).step();
  if (Issues issues = state_->database.takeFailure(); !issues.empty()) return issues;
  if (!found) return std::optional<Row>{};
  return std::optional<Row>(readRow(select, state_->markPacker));
}

Result<std::optional<Row>> Outbox::deliveredBefore(const std::string& visit,
                                                   std::int32_t revision) {
  const std::scoped_lock lock(state_->mutex);
  Statement select = state_->database.prepare(
      std::string(kColumns) +
      "WHERE visit = ?1 AND revision < ?2 AND state = 'delivered' ORDER BY revision DESC LIMIT 1");
  const bool found = select.blob(1, visit).bind(2, revision).step();
  if (Issues issues = state_->database.takeFailure(); !issues.empty()) return issues;
  if (!found) return std::optional<Row>{};
  return std::optional<Row>(readRow(select, state_->markPacker));
}

Result<std::int32_t> Outbox::lastRevision(const std::string& visit) {
  const std::scoped_lock lock(state_->mutex);
  Statement select =
      state_->database.prepare("SELECT MAX(revision) FROM delivery WHERE visit = ?1");
  select.blob(1, visit).step();
  if (Issues issues = state_->database.takeFailure(); !issues.empty()) return issues;
  return static_cast<std::int32_t>(select.integer(0));
}

Result<std::optional<Row>> Outbox::version(const std::string& destination,
                                           const std::string& system, const std::string& value,
                                           std::int32_t revision) {
  const std::string visit = visitOf(destination, system, value, state_->sealer);
  const std::scoped_lock lock(state_->mutex);
  Statement select =
      state_->database.prepare(std::string(kColumns) + "WHERE visit = ?1 AND revision = ?2");
  const bool found = select.blob(1, visit).bind(2, revision).step();
  if (Issues issues = state_->database.takeFailure(); !issues.empty()) return issues;
  if (!found) return std::optional<Row>{};
  return std::optional<Row>(readRow(select, state_->markPacker));
}

void Outbox::unfoldBy(Unfold unfold) { state_->unfold = std::move(unfold); }

Result<std::string> Outbox::unfold(std::string stored) const {
  if (!state_->unfold) return stored;
  return state_->unfold(std::move(stored));
}

Result<std::string> Outbox::payload(std::int64_t id) {
  Result<std::string> stored = state_->stored(id);
  return stored ? unfold(*std::move(stored)) : stored;
}

Result<std::string> Outbox::Store::stored(std::int64_t id) {
  const std::scoped_lock lock(mutex);
  Statement select = database.prepare("SELECT key, body FROM delivery WHERE id = ?1");
  const bool found = select.bind(1, id).step();
  if (Issues issues = database.takeFailure(); !issues.empty()) return issues;
  if (!found) return notFound(id);
  if (select.isNull(1)) {
    return Issue{Severity::Error,
                 IssueType::NotFound,
                 "outbox",
                 "",
                 "The payload of row " + std::to_string(id) + " was erased.",
                 "Send the assessment again from its source."};
  }
  std::optional<std::string> body = markPacker.unpack(select.bytes(1), "body/" + select.bytes(0));
  if (body) return *std::move(body);
  return Issue{Severity::Error,
               IssueType::Exception,
               "outbox",
               "",
               "The payload of row " + std::to_string(id) + " was damaged in the store.",
               "Drop the row and send the assessment again from its source; check the disk."};
}

}  // namespace footbridge::outbox
