// Which messages were taken, for as long as a replay may come.

#include "outbox/outbox.hpp"
#include "outbox/store.hpp"

namespace footbridge::outbox {
namespace {

/// A byte stands between the parts that none of them can hold.
std::string keyOf(const Message& message, const Sealer& sealer) {
  return sealer.keyedHash(std::string("message\0", 8) + message.sender + std::string(1, '\0') +
                          message.number);
}

std::string digestOf(const Message& message, const Sealer& sealer) {
  return sealer.keyedHash(std::string("message-digest\0", 15) + message.digest);
}

}  // namespace

void Outbox::Store::remember(std::span<const Message> messages, Time now) {
  if (messages.empty()) return;
  Statement insert =
      database.prepare("INSERT OR IGNORE INTO message (key, digest, created) VALUES (?1, ?2, ?3)");
  for (const Message& message : messages) {
    insert.blob(1, keyOf(message, sealer)).blob(2, digestOf(message, sealer));
    insert.bind(3, count(now)).step();
    insert.reset();
  }
}

Result<Heard> Outbox::heard(const Message& message) {
  const std::string key = keyOf(message, state_->sealer);
  const std::scoped_lock lock(state_->mutex);
  Statement select = state_->database.prepare("SELECT digest FROM message WHERE key = ?1");
  const bool found = select.blob(1, key).step();
  if (Issues issues = state_->database.takeFailure(); !issues.empty()) return issues;
  if (!found) return Heard::Never;
  return select.bytes(0) == digestOf(message, state_->sealer) ? Heard::Same : Heard::Other;
}

Result<std::int64_t> Outbox::forgetMessages(Time before, std::int64_t atMost) {
  return state_->eraseSome(
      "DELETE FROM message WHERE key IN (SELECT key FROM message WHERE created < ?1 LIMIT ?2)",
      before, atMost);
}

}  // namespace footbridge::outbox
