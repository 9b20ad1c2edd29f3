// How much is not delivered, without reading through what is.

#include "outbox/store.hpp"

namespace footbridge::outbox {

Result<std::vector<Backlog>> Outbox::backlog() {
  const std::scoped_lock lock(state_->mutex);
  Statement select = state_->database.prepare(
      "SELECT destination, state, count(*), min(created) FROM delivery"
      " WHERE state <> 'delivered' AND dropped = 0 GROUP BY destination, state");
  std::vector<Backlog> out;
  while (select.step()) {
    out.push_back({select.bytes(0), stateOf(select.bytes(1)).value_or(State::Held),
                   select.integer(2), timeOf(select.integer(3))});
  }
  if (Issues issues = state_->database.takeFailure(); !issues.empty()) return issues;
  return out;
}

}  // namespace footbridge::outbox
