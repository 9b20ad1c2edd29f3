// Rows of the outbox and what is stored of them, as they are read.

#include "json/value.hpp"
#include "outbox/sealing.hpp"
#include "outbox/store.hpp"

namespace footbridge::outbox {
namespace {

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

/// The row that a statement on kColumns meets first.
Result<std::optional<Row>> Outbox::Store::first(Statement& select) {
  const bool found = select.step();
  if (Issues issues = database.takeFailure(); !issues.empty()) return issues;
  if (!found) return std::optional<Row>{};
  return std::optional<Row>(readRow(select, packer));
}

Result<Row> Outbox::Store::row(std::int64_t id) {
  Statement select = database.prepare(std::string(kColumns) + "WHERE id = ?1");
  select.bind(1, id);
  Result<std::optional<Row>> found = first(select);
  if (!found) return std::move(found).issues();
  if (!*found) return notFound(id);
  return **std::move(found);
}

Result<std::vector<Row>> Outbox::list(const Filter& filter) {
  const std::scoped_lock lock(state_->mutex);
  Statement select = state_->database.prepare(selectFor(filter));
  select.bind(1, filter.after).text(2, filter.destination);
  select.bind(3, filter.limit == 0 ? -1 : static_cast<std::int64_t>(filter.limit));
  std::vector<Row> out;
  while (select.step()) out.push_back(readRow(select, state_->packer));
  if (Issues issues = state_->database.takeFailure(); !issues.empty()) return issues;
  return out;
}

Result<Row> Outbox::find(std::int64_t id) {
  const std::scoped_lock lock(state_->mutex);
  return state_->row(id);
}

Result<std::optional<Row>> Outbox::earlier(const Entry& entry) {
  const std::string visit = visitOf(entry.destination, entry.system, entry.value, state_->sealer);
  const std::scoped_lock lock(state_->mutex);
  Statement select = state_->database.prepare(
      std::string(kColumns) +
      "WHERE visit = ?1 AND revision < ?2 AND state <> 'refused' AND lane ="
      " (SELECT lane FROM delivery WHERE visit = ?1 AND state <> 'refused' ORDER BY id LIMIT 1)"
      " ORDER BY revision DESC LIMIT 1");
  select.blob(1, visit).bind(2, entry.revision);
  return state_->first(select);
}

Result<std::optional<Row>> Outbox::deliveredBefore(const std::string& visit,
                                                   std::int32_t revision) {
  const std::scoped_lock lock(state_->mutex);
  Statement select = state_->database.prepare(
      std::string(kColumns) +
      "WHERE visit = ?1 AND revision < ?2 AND state = 'delivered' ORDER BY revision DESC LIMIT 1");
  select.blob(1, visit).bind(2, revision);
  return state_->first(select);
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
  select.blob(1, visit).bind(2, revision);
  return state_->first(select);
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
  std::optional<std::string> body = packer.unpack(select.bytes(1), "body/" + select.bytes(0));
  if (body) return *std::move(body);
  return Issue{Severity::Error,
               IssueType::Exception,
               "outbox",
               "",
               "The payload of row " + std::to_string(id) + " was damaged in the store.",
               "Drop the row and send the assessment again from its source; check the disk."};
}

}  // namespace footbridge::outbox
