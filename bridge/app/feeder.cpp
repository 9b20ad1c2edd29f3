#include "app/feeder.hpp"

#include <algorithm>
#include <system_error>
#include <utility>

#include "deliver/bundle_marks.hpp"

namespace footbridge::app {
namespace {

using deliver::Job;

constexpr std::size_t kAtOnce = 4;
constexpr std::size_t kAhead = 128;  ///< some 25 MB of bundles
constexpr unsigned kMostMakers = 4;
/// Of what is stored, kept for rows in the queue; of others it is fetched when their turn comes.
constexpr std::size_t kMostBytes = std::size_t{16} << 20U;
/// Without any row tried for so long, those ahead may all wait for something: then the sender is
/// told of all there is, and makes bundles itself.
constexpr std::chrono::milliseconds kPatience{1'000};

}  // namespace

Feeder::Feeder(outbox::Outbox& outbox) : outbox_(outbox) {
  const unsigned makers = std::clamp(std::thread::hardware_concurrency(), 1U, kMostMakers);
  try {
    for (unsigned i = 0; i < makers; ++i) makers_.emplace_back([this] { work(); });
  } catch (const std::system_error&) {
    if (makers_.empty()) throw;  // one is enough
  }
}

Feeder::~Feeder() {
  {
    const std::scoped_lock lock(mutex_);
    ending_ = true;
  }
  wake_.notify_all();
}

void Feeder::give(std::vector<Job> jobs) {
  {
    const std::scoped_lock lock(mutex_);
    if (!expecting_) return;
    for (Job& job : jobs) {
      // A row that was stored before a sender looked into the outbox may be given only after it.
      if (told_.contains(job.id)) continue;
      if (bytes_ >= kMostBytes) std::string().swap(job.bundle);
      bytes_ += job.bundle.size();
      queue_.push_back(std::move(job));
    }
  }
  wake_.notify_all();
}

void Feeder::expect() {
  const std::scoped_lock lock(mutex_);
  expecting_ = true;
}

void Feeder::feed(deliver::Sender& sender, std::unordered_set<std::int64_t> told) {
  {
    const std::scoped_lock lock(mutex_);
    told_ = std::move(told);
    std::erase_if(queue_, [&](const Job& job) {
      if (!told_.contains(job.id)) return false;
      bytes_ -= job.bundle.size();
      return true;
    });
    sender_ = &sender;
    ++run_;
  }
  wake_.notify_all();
}

void Feeder::end() {
  const std::scoped_lock lock(mutex_);
  sender_ = nullptr;
  expecting_ = false;
  queue_.clear();
  told_.clear();
  ahead_.clear();
  bytes_ = 0;
}

void Feeder::tried(std::int64_t id) {
  {
    const std::scoped_lock lock(mutex_);
    if (ahead_.erase(id) == 0) return;
    ++tries_;
    if (ahead_.size() + 1 != kAhead) return;  // there was room, or there is none yet
  }
  wake_.notify_all();
}

bool Feeder::hasRoom() const { return ahead_.size() < kAhead; }

void Feeder::work() {
  std::unique_lock lock(mutex_);
  while (true) {
    wake_.wait(lock, [this] { return ending_ || (sender_ != nullptr && !queue_.empty()); });
    if (ending_) return;
    if (hasRoom()) {
      feedSome(lock);
      continue;
    }
    const std::uint64_t before = tries_;
    const bool moved = wake_.wait_for(lock, kPatience, [this] {
      return ending_ || sender_ == nullptr || queue_.empty() || hasRoom();
    });
    if (!moved && tries_ == before && handed_ == taken_) passAll();
  }
}

Feeder::Group Feeder::takeFirst(std::size_t count) {
  const auto end = queue_.begin() + static_cast<std::ptrdiff_t>(std::min(count, queue_.size()));
  Group out{
      taken_++, run_, {std::make_move_iterator(queue_.begin()), std::make_move_iterator(end)}};
  queue_.erase(queue_.begin(), end);
  for (const Job& job : out.jobs) bytes_ -= job.bundle.size();
  return out;
}

/// Makes the next bundles without holding up those who give, nor those who make others.
void Feeder::feedSome(std::unique_lock<std::mutex>& lock) {
  Group some = takeFirst(kAtOnce);
  for (const Job& job : some.jobs) ahead_.insert(job.id);
  lock.unlock();
  for (Job& job : some.jobs) make(job);
  lock.lock();
  hand(std::move(some));
}

void Feeder::passAll() { hand(takeFirst(queue_.size())); }

/// To the sender they were taken for, once all that was taken before is there. Another sender found
/// these rows in the outbox.
void Feeder::hand(Group group) {
  made_.emplace(group.turn, std::move(group));
  for (auto next = made_.begin(); next != made_.end() && next->first == handed_; ++handed_) {
    Group& first = next->second;
    if (sender_ != nullptr && first.run == run_) sender_->give(std::move(first.jobs));
    next = made_.erase(next);
  }
}

/// What cannot be made is left to the sender, which holds the row and says why.
void Feeder::make(Job& job) const {
  if (job.whole) return;
  Result<std::string> bundle =
      job.bundle.empty() ? outbox_.payload(job.id) : outbox_.unfold(job.bundle);
  if (!bundle) return;
  job.bundle = *std::move(bundle);
  job.whole = true;
  if (job.resources == 0) job.resources = deliver::entriesOf(job.bundle);
}

}  // namespace footbridge::app
