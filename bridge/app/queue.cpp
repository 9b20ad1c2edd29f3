#include "app/queue.hpp"

#include "app/deployment.hpp"
#include "app/inputs.hpp"
#include "app/recipe.hpp"
#include "app/withdraw.hpp"

namespace footbridge::app {
namespace {

using deliver::Job;

constexpr std::size_t kGroup = 64;  ///< assessments stored in one transaction

}  // namespace

Queue::Queue(Run& run, Give give)
    : run_(run),
      give_(std::move(give)),
      maker_(run.world.tables,
             bundleOptions(run.options.bundle, run.options.patient, run.options.shape, run.to,
                           run.world.tables),
             run.to.name),
      setAside_(run.config.data / "set-aside", formOf(run.options.input)) {}

void Queue::finish() {
  store();
  append(run_.failures, setAside_.finish());
}

void Queue::take(Done& done) {
  if (!run_.failures.empty()) return;
  if (done.outcome.refused()) {
    ++run_.setAside;
    run_.receipts.remark(done.outcome);
    append(run_.failures, setAside_.take(done.text, done.outcome));
    return;
  }
  push(done);
  if (waiting_.size() >= kGroup) store();
}

void Queue::store() {
  if (waiting_.empty() || !run_.failures.empty()) return;
  std::vector<outbox::Entry> entries;
  for (Waiting& each : waiting_) entries.push_back(std::move(each.entry));
  const Result<std::vector<outbox::Added>> added = run_.outbox.add(entries, clockTime());
  if (!added) {
    run_.failures = added.issues();
    return;
  }
  std::vector<Job> jobs;
  for (std::size_t i = 0; i < entries.size(); ++i) {
    const Sent sent{{entries[i].system, entries[i].value}, entries[i].revision};
    const outbox::Added& how = (*added)[i];
    if (how.how != outbox::Added::How::New) {
      run_.receipts.queued(how, sent);
      continue;
    }
    if (!waiting_[i].hold.empty()) {
      hold(how, sent, waiting_[i].hold);
      continue;
    }
    run_.receipts.know(how.id, sent);
    jobs.push_back(jobFor(entries[i], how));
    if (waiting_[i].bundle.empty()) continue;
    jobs.back().bundle = std::move(waiting_[i].bundle);
    jobs.back().whole = true;
  }
  waiting_.clear();
  give_(std::move(jobs));
}

/// What stands alone is stored as it came, which takes a fiftieth of the room and spares squeezing
/// the bundle; the sender is given the bundle all the same.
void Queue::push(Done& done) {
  const Assessment& a = done.outcome.assessment;
  std::string hold;
  if (a.replaces) hold = withdrawReplaced(a);
  const bool alone = run_.options.input.previous.empty() && standsAlone(done.text, a);
  std::string stored = alone
                           ? recipeOf(done.text.bytes, run_.world.now, options(), run_.world.tables)
                           : std::move(done.made);
  outbox::Entry entry = maker_.make(done.outcome, std::move(stored));
  entry.resources = static_cast<std::int32_t>(done.entries);
  if (a.status == Status::EnteredInError) {
    hold += withdraw(entry, a);
  } else if (a.revision > 1) {
    hold += retract(entry);
  }
  waiting_.push_back(
      {std::move(entry), std::move(hold), alone ? std::move(done.made) : std::string()});
}

/// Adds to a correction what it has to withdraw. If that cannot be known, the reason to hold it.
std::string Queue::retract(outbox::Entry& entry) {
  store();  // the earlier revision may be among those that wait to be stored
  if (!run_.failures.empty()) return {};
  Result<std::string> hold = addRetractions(run_.outbox, entry);
  if (!hold) run_.failures = hold.issues();
  return hold ? *std::move(hold) : "";
}

/// The bundle of a withdrawal, made of what was sent before.
std::string Queue::withdraw(outbox::Entry& entry, const Assessment& assessment) {
  store();
  if (!run_.failures.empty()) return {};
  Result<std::string> hold =
      makeWithdrawal(run_.outbox, entry, assessment, maker_.options().version, run_.world.tables);
  if (!hold) run_.failures = hold.issues();
  return hold ? *std::move(hold) : "";
}

/// Queues the withdrawal of the assessment that this one replaces. If it cannot be made, the reason
/// to hold this one.
std::string Queue::withdrawReplaced(const Assessment& assessment) {
  store();
  if (!run_.failures.empty()) return {};
  Replaced replaced = withdrawalOfReplaced(run_.outbox, run_.to.name, assessment,
                                           maker_.options().version, run_.world.tables);
  if (replaced.entry) {
    waiting_.push_back({*std::move(replaced.entry), {}, {}});
  }
  return replaced.hold;
}

void Queue::hold(const outbox::Added& added, const Sent& sent, const std::string& why) {
  const outbox::Mark mark = holdMark(added.id, why);
  append(run_.failures, run_.outbox.settle({&mark, 1}, clockTime()));
  run_.receipts.know(added.id, sent);
  run_.receipts.tell({added.id, outbox::State::Held, 0, why, 0, 0});
  ++run_.heldAtOnce;
}

}  // namespace footbridge::app
