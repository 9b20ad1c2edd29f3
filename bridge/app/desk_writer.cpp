#include "app/desk_writer.hpp"

#include <utility>

#include "app/deployment.hpp"

namespace footbridge::app {
namespace {

/// A commit of one row costs as much as one of many: worth waiting for those that are nearly there.
constexpr std::size_t kGroup = 32;
constexpr std::chrono::milliseconds kGather{1};
constexpr std::size_t kMostRows = 256;  ///< that wait to be stored: some 20 MB of bundles

/// Of what became of an assessment for several destinations the one that needs attention most.
Fate worse(Fate one, Fate other) {
  const auto rank = [](Fate fate) {
    if (fate == Fate::Differs) return 3;
    if (fate == Fate::Held) return 2;
    return fate == Fate::Stored ? 1 : 0;
  };
  return rank(one) >= rank(other) ? one : other;
}

Fate fateOf(const outbox::Added& added) {
  using How = outbox::Added::How;
  if (added.how == How::Differs) return Fate::Differs;
  if (added.how == How::Held) return Fate::Held;
  return added.how == How::New ? Fate::Stored : Fate::Known;
}

}  // namespace

DeskWriter::DeskWriter(const DeskPlan& plan, outbox::Outbox& outbox)
    : plan_(plan), outbox_(outbox), jobs_(plan.to.size()), thread_([this] { work(); }) {}

void DeskWriter::give(Slice slice) {
  bool wanted = false;
  {
    std::unique_lock lock(mutex_);
    room_.wait(lock, [this] { return rows_ < kMostRows; });
    if (slice.ticket) --coming_;
    rows_ += slice.entries.size();
    given_.push_back(std::move(slice));
    wanted = given_.size() == 1 || enough();
  }
  if (wanted) wake_.notify_one();
}

/// What was given is worth a commit, or nothing else is coming.
bool DeskWriter::enough() const { return ending_ || rows_ >= kGroup || coming_ == 0; }

void DeskWriter::finish() {
  {
    const std::scoped_lock lock(mutex_);
    ending_ = true;
  }
  wake_.notify_one();
  if (thread_.joinable()) thread_.join();
}

void DeskWriter::work() {
  while (true) {
    std::vector<Slice> slices;
    {
      std::unique_lock lock(mutex_);
      wake_.wait(lock, [this] { return ending_ || !given_.empty(); });
      if (given_.empty()) return;
      wake_.wait_for(lock, kGather, [this] { return enough(); });
      slices.assign(std::make_move_iterator(given_.begin()), std::make_move_iterator(given_.end()));
      given_.clear();
      rows_ = 0;
    }
    room_.notify_all();
    store(slices);
  }
}

void DeskWriter::store(std::vector<Slice>& slices) {
  for (Slice& slice : slices) {
    for (std::size_t i = 0; i < slice.entries.size(); ++i) push(slice, i);
    if (!slice.message) continue;
    messages_.push_back(*slice.message);
    senders_.push_back(&slice);
  }
  commit();
  for (Slice& slice : slices) answer(slice);
}

void DeskWriter::push(Slice& slice, std::size_t entry) {
  if (slice.entries[entry].revision > 1 || slice.owners[entry].withdraws) {
    commit();  // what came before may be among those that are to be stored
    Issues issues = complete(slice, entry);
    if (!issues.empty()) {
      append(slice.failures, std::move(issues));
      slice.items[slice.owners[entry].item].fate = Fate::Failed;
      return;
    }
  }
  lines_.push_back({&slice, slice.owners[entry]});
  group_.push_back(std::move(slice.entries[entry]));
}

/// Adds to an entry what it does to those before it, or the reason to hold it.
Issues DeskWriter::complete(Slice& slice, std::size_t entry) {
  outbox::Entry& added = slice.entries[entry];
  added.sealed.reset();
  const std::optional<Assessment>& withdraws = slice.owners[entry].withdraws;
  const std::string& version = plan_.bundle.version;
  if (withdraws && withdraws->replaces) {
    std::optional<outbox::Entry> replaced =
        withdrawalOfReplaced(outbox_, added, *withdraws, version, plan_.tables);
    if (replaced) {
      lines_.push_back({&slice, slice.owners[entry], false});
      group_.push_back(*std::move(replaced));
    }
  }
  if (withdraws && withdraws->status == Status::EnteredInError) {
    return makeWithdrawal(outbox_, added, *withdraws, version, plan_.tables);
  }
  return added.revision > 1 ? addRetractions(outbox_, added) : Issues{};
}

/// Stores the group. What cannot be stored is a failure of ours for each submission in it.
void DeskWriter::commit() {
  if (group_.empty() && messages_.empty()) return;
  const auto began = std::chrono::steady_clock::now();
  const Result<std::vector<outbox::Added>> added = outbox_.add(group_, messages_, clockTime());
  for (std::size_t i = 0; i < group_.size(); ++i) {
    if (added) note(lines_[i], group_[i], (*added)[i]);
    if (added) continue;
    Slice& slice = *lines_[i].slice;
    slice.items[lines_[i].owner.item].fate = Fate::Failed;
    if (slice.failures.empty()) slice.failures = added.issues();
  }
  for (Slice* slice : senders_) {
    if (!added && slice->failures.empty()) slice->failures = added.issues();
  }
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - began;
  plan_.committed(group_.size(), took.count());
  group_.clear();
  lines_.clear();
  messages_.clear();
  senders_.clear();
  for (std::size_t i = 0; i < jobs_.size(); ++i) {
    if (!jobs_[i].empty()) plan_.give(i, std::exchange(jobs_[i], {}));
  }
}

void DeskWriter::note(const Line& line, outbox::Entry& entry, const outbox::Added& added) {
  Item& item = line.slice->items[line.owner.item];
  const Fate fate = fateOf(added);
  if (fate == Fate::Stored) jobs_[line.owner.destination].push_back(jobFor(entry, added));
  if (!line.own) return;
  item.fate = item.row == 0 ? fate : worse(item.fate, fate);
  if (item.row == 0) item.row = added.id;
}

void DeskWriter::answer(Slice& slice) {
  Settled& so = slice.open->so;
  so.items.insert(so.items.end(), std::make_move_iterator(slice.items.begin()),
                  std::make_move_iterator(slice.items.end()));
  so.bundles += slice.bundles;
  append(so.failures, std::move(slice.failures));
  if (slice.ticket == nullptr) return;
  slice.ticket->settled(std::move(so));
}

}  // namespace footbridge::app
