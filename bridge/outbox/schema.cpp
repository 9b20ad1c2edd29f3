#include "outbox/schema.hpp"

#include <array>
#include <charconv>

namespace footbridge::outbox {
namespace {

// key, lane, visit and digest are keyed hashes; label, reason, receipt and body are sealed. Times
// are milliseconds since 1970. Never change a migration that was released: add one.
constexpr std::array<std::string_view, 5> kMigrations{R"(
CREATE TABLE meta (
  name TEXT PRIMARY KEY,
  value BLOB NOT NULL
) STRICT;
CREATE TABLE delivery (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  key BLOB NOT NULL UNIQUE,
  destination TEXT NOT NULL,
  visit BLOB NOT NULL,
  revision INTEGER NOT NULL,
  lane BLOB NOT NULL,
  digest BLOB NOT NULL,
  resources INTEGER NOT NULL,
  state TEXT NOT NULL CHECK (state IN ('ready', 'delivered', 'refused', 'held')),
  step TEXT NOT NULL DEFAULT 'send' CHECK (step IN ('send', 'confirm')),
  dropped INTEGER NOT NULL DEFAULT 0,
  attempts INTEGER NOT NULL DEFAULT 0,
  strikes INTEGER NOT NULL DEFAULT 0,
  due INTEGER NOT NULL,
  created INTEGER NOT NULL,
  changed INTEGER NOT NULL,
  label BLOB NOT NULL,
  reason BLOB,
  receipt BLOB,
  body BLOB
) STRICT;
CREATE INDEX delivery_ready ON delivery (destination, id) WHERE state = 'ready';
CREATE INDEX delivery_visit ON delivery (visit, revision);
CREATE INDEX delivery_kept ON delivery (changed) WHERE state = 'delivered' AND body IS NOT NULL;
)",
                                                      R"(
ALTER TABLE delivery ADD COLUMN released INTEGER NOT NULL DEFAULT 0;
)",
                                                      R"(
CREATE INDEX delivery_backlog ON delivery (destination, state, created)
  WHERE state <> 'delivered' AND dropped = 0;
)",
                                                      R"(
CREATE TABLE message (
  key BLOB PRIMARY KEY,
  digest BLOB NOT NULL,
  created INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX message_created ON message (created);
)",
                                                      // A hash as the key of an index has each row
                                                      // write a page of it: one such index, not
                                                      // two. `key` says the same as visit and
                                                      // revision, and seals.
                                                      R"(
CREATE TABLE delivery_next (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  key BLOB NOT NULL,
  destination TEXT NOT NULL,
  visit BLOB NOT NULL,
  revision INTEGER NOT NULL,
  lane BLOB NOT NULL,
  digest BLOB NOT NULL,
  resources INTEGER NOT NULL,
  state TEXT NOT NULL CHECK (state IN ('ready', 'delivered', 'refused', 'held')),
  step TEXT NOT NULL DEFAULT 'send' CHECK (step IN ('send', 'confirm')),
  dropped INTEGER NOT NULL DEFAULT 0,
  released INTEGER NOT NULL DEFAULT 0,
  attempts INTEGER NOT NULL DEFAULT 0,
  strikes INTEGER NOT NULL DEFAULT 0,
  due INTEGER NOT NULL,
  created INTEGER NOT NULL,
  changed INTEGER NOT NULL,
  label BLOB NOT NULL,
  reason BLOB,
  receipt BLOB,
  body BLOB
) STRICT;
INSERT INTO delivery_next (id, key, destination, visit, revision, lane, digest, resources, state,
    step, dropped, released, attempts, strikes, due, created, changed, label, reason, receipt, body)
  SELECT id, key, destination, visit, revision, lane, digest, resources, state,
    step, dropped, released, attempts, strikes, due, created, changed, label, reason, receipt, body
  FROM delivery;
DROP TABLE delivery;
ALTER TABLE delivery_next RENAME TO delivery;
CREATE UNIQUE INDEX delivery_visit ON delivery (visit, revision);
CREATE INDEX delivery_open ON delivery (destination, state, id, created, dropped)
  WHERE state <> 'delivered' AND dropped = 0;
CREATE INDEX delivery_kept ON delivery (changed) WHERE state = 'delivered' AND body IS NOT NULL;
)"};

}  // namespace

Issues migrate(Database& database) {
  const std::string text = database.ask("PRAGMA user_version").value_or("0");
  std::size_t version = 0;
  std::from_chars(text.data(), text.data() + text.size(), version);
  if (version > kMigrations.size()) {
    return {{Severity::Fatal, IssueType::NoStore, "outbox", "",
             "The outbox was written by a newer Footbridge (format " + text + ").",
             "Use that program, or a new data folder."}};
  }
  for (; version < kMigrations.size(); ++version) {
    Issues issues =
        database.run("BEGIN IMMEDIATE; " + std::string(kMigrations[version]) +
                     "PRAGMA user_version=" + std::to_string(version + 1) + "; COMMIT;");
    if (!issues.empty()) {
      database.run("ROLLBACK");
      return issues;
    }
  }
  return database.takeFailure();
}

}  // namespace footbridge::outbox
