#include "app/lanes.hpp"

#include <condition_variable>
#include <deque>
#include <mutex>
#include <thread>
#include <utility>
#include <vector>

namespace footbridge::app {
namespace {

/// How many texts are held for each worker: enough that none waits while another one is handed on,
/// few enough that they stay in the cache.
constexpr std::size_t kHeldForEach = 8;

enum class Stage : std::uint8_t { Waiting, Running, Finished };

struct Slot {
  Done done;
  Stage stage = Stage::Waiting;
  std::size_t worker = 0;  ///< that took it up
};

/// Growing a new string for each bundle costs more than writing it, and so does writing into what
/// another core has in its cache: what was handed on serves the worker that made it.
void renew(Done& done, Done spare) {
  done.outcome = std::move(spare.outcome);
  done.made = std::move(spare.made);
  done.made.clear();
}

}  // namespace

struct Lanes::State {
  std::function<void(Done&)> use;
  Worker own;  ///< of the thread that adds, which works as well while there is no room

  std::mutex mutex;
  std::condition_variable waiting;   ///< there may be something to do
  std::condition_variable finished;  ///< the first one was finished
  std::deque<Slot> slots;            ///< in the order of the input; references stay valid
  std::size_t limit = 0;
  std::size_t taken = 0;  ///< of the slots, how many from the front have been taken up
  bool ending = false;

  std::vector<std::vector<Done>> spares;  ///< handed on, by the worker that made them
  std::vector<std::jthread> threads;

  Slot* next();
  bool runNext(std::unique_lock<std::mutex>& lock, const Worker& worker, std::size_t number);
  void work(const Worker& worker, std::size_t number);
  void handOnOne(std::unique_lock<std::mutex>& lock);
  void push(Done done, Stage stage);
  Done spareOf(std::size_t number);
};

/// The next slot that nobody has taken up, or nullptr.
Slot* Lanes::State::next() {
  while (taken < slots.size() && slots[taken].stage != Stage::Waiting) ++taken;
  return taken < slots.size() ? &slots[taken++] : nullptr;
}

Done Lanes::State::spareOf(std::size_t number) {
  Done out;
  if (spares[number].empty()) return out;
  out = std::move(spares[number].back());
  spares[number].pop_back();
  return out;
}

/// Works on the next text; false if none waits.
bool Lanes::State::runNext(std::unique_lock<std::mutex>& lock, const Worker& worker,
                           std::size_t number) {
  Slot* const slot = next();
  if (slot == nullptr) return false;
  slot->stage = Stage::Running;
  slot->worker = number;
  Done spare = spareOf(number);
  lock.unlock();
  renew(slot->done, std::move(spare));
  worker(slot->done);
  lock.lock();
  slot->stage = Stage::Finished;
  if (slot == &slots.front()) finished.notify_one();
  return true;
}

void Lanes::State::work(const Worker& worker, std::size_t number) {
  std::unique_lock lock(mutex);
  while (true) {
    if (runNext(lock, worker, number)) continue;
    if (ending) return;
    waiting.wait(lock);
  }
}

/// Hands on the first result. Until it is finished, this thread works on others, if any wait.
void Lanes::State::handOnOne(std::unique_lock<std::mutex>& lock) {
  while (slots.front().stage != Stage::Finished) {
    if (!runNext(lock, own, threads.size())) finished.wait(lock);
  }
  Slot slot = std::move(slots.front());
  slots.pop_front();
  if (taken > 0) --taken;
  lock.unlock();
  use(slot.done);
  lock.lock();
  spares[slot.worker].push_back(std::move(slot.done));
}

void Lanes::State::push(Done done, Stage stage) {
  std::unique_lock lock(mutex);
  while (slots.size() >= limit) handOnOne(lock);
  while (!slots.empty() && slots.front().stage == Stage::Finished) handOnOne(lock);
  slots.push_back({std::move(done), stage});
  waiting.notify_one();
}

Lanes::Lanes(std::size_t workers, const std::function<Worker()>& makeWorker,
             std::function<void(Done&)> use)
    : state_(std::make_unique<State>()) {
  state_->use = std::move(use);
  state_->own = makeWorker();
  if (workers <= 1) {
    state_->spares.resize(1);
    return;
  }
  state_->limit = workers * kHeldForEach;
  state_->spares.resize(workers);
  for (std::size_t i = 0; i + 1 < workers; ++i) {
    state_->threads.emplace_back(
        [state = state_.get(), worker = makeWorker(), i] { state->work(worker, i); });
  }
}

Lanes::~Lanes() {
  {
    const std::lock_guard lock(state_->mutex);
    state_->ending = true;
  }
  state_->waiting.notify_all();
}

void Lanes::add(intake::Text text) {
  Done done;
  done.text = std::move(text);
  if (state_->limit > 0) return state_->push(std::move(done), Stage::Waiting);
  renew(done, state_->spareOf(0));
  state_->own(done);
  state_->use(done);
  state_->spares[0].push_back(std::move(done));
}

void Lanes::addReady(Done done) {
  if (state_->limit > 0) return state_->push(std::move(done), Stage::Finished);
  state_->use(done);
}

void Lanes::finish() {
  std::unique_lock lock(state_->mutex);
  while (!state_->slots.empty()) state_->handOnOne(lock);
}

}  // namespace footbridge::app
