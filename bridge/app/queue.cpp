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
    if (how.how == outbox::Added::How::Held) ++run_.heldAtOnce;
    if (how.how != outbox::Added::How::New) {
      run_.receipts.queued(how, sent);
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
  const bool alone = run_.options.input.previous.empty() && standsAlone(done.text, a);
  std::string stored = alone
                           ? recipeOf(done.text.bytes, run_.world.now, options(), run_.world.tables)
                           : std::move(done.made);
  outbox::Entry entry = maker_.make(done.outcome, std::move(stored));
  entry.resources = static_cast<std::int32_t>(done.entries);
  complete(entry, a);
  waiting_.push_back({std::move(entry), alone ? std::move(done.made) : std::string()});
}

/// Adds to an entry what it does to those before it, or the reason to hold it.
void Queue::complete(outbox::Entry& entry, const Assessment& assessment) {
  const bool withdraws = assessment.status == Status::EnteredInError;
  if (!withdraws && !assessment.replaces && entry.revision == 1) return;
  store();  // what came before may be among those that wait to be stored
  if (!run_.failures.empty()) return;
  const std::string& version = maker_.options().version;
  const Tables& tables = run_.world.tables;
  if (assessment.replaces) {
    std::optional<outbox::Entry> replaced =
        withdrawalOfReplaced(run_.outbox, entry, assessment, version, tables);
    if (replaced) waiting_.push_back({*std::move(replaced), {}});
  }
  if (withdraws) {
    run_.failures = makeWithdrawal(run_.outbox, entry, assessment, version, tables);
  } else if (entry.revision > 1) {
    run_.failures = addRetractions(run_.outbox, entry);
  }
}

}  // namespace footbridge::app
