#include "app/lanes.hpp"

#include <algorithm>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <thread>
#include <utility>
#include <vector>

namespace footbridge::app {
namespace {

/// How many texts are held for each worker: enough that none waits for the one that writes, which
/// hands on half of them at a time rather than be woken for each.
constexpr std::size_t kHeldForEach = 4;

enum class Stage : std::uint8_t { Waiting, Running, Finished };

struct Slot {
  Done done;
  Stage stage = Stage::Waiting;
};

}  // namespace

struct Lanes::State {
  std::function<void(Done&)> use;
  Worker alone;  ///< the only worker, where there is one

  std::mutex mutex;
  std::condition_variable waiting;   ///< there may be something to do
  std::condition_variable finished;  ///< as many of the first as are awaited were finished
  std::deque<Slot> slots;            ///< in the order of the input; references stay valid
  std::size_t limit = 0;
  std::size_t taken = 0;    ///< of the slots, how many from the front have been taken up
  std::size_t awaited = 0;  ///< of the slots, how many from the front have to be finished
  bool ending = false;

  std::vector<Done> used;  ///< handed on: their memory serves those that come
  std::vector<std::jthread> threads;

  Done fresh(intake::Text text);
  Slot* take(std::unique_lock<std::mutex>& lock);
  bool haveFinished(std::size_t count) const;
  void work(const Worker& worker);
  void await(std::unique_lock<std::mutex>& lock, std::size_t count);
  void handOn(std::unique_lock<std::mutex>& lock);
  void push(Done done, Stage stage);
};

/// A text on its way. Growing a new string for each bundle costs more than writing it.
Done Lanes::State::fresh(intake::Text text) {
  Done done;
  if (!used.empty()) {
    done = std::move(used.back());
    used.pop_back();
    done.made.clear();
  }
  done.text = std::move(text);
  return done;
}

/// The next slot that nobody has taken up, or nullptr at the end.
Slot* Lanes::State::take(std::unique_lock<std::mutex>& lock) {
  while (true) {
    while (taken < slots.size() && slots[taken].stage != Stage::Waiting) ++taken;
    if (taken < slots.size()) break;
    if (ending) return nullptr;
    waiting.wait(lock);
  }
  Slot& slot = slots[taken++];
  slot.stage = Stage::Running;
  return &slot;
}

bool Lanes::State::haveFinished(std::size_t count) const {
  return std::all_of(slots.begin(), slots.begin() + static_cast<std::ptrdiff_t>(count),
                     [](const Slot& slot) { return slot.stage == Stage::Finished; });
}

void Lanes::State::work(const Worker& worker) {
  std::unique_lock lock(mutex);
  while (Slot* slot = take(lock)) {
    lock.unlock();
    worker(slot->done);
    lock.lock();
    slot->stage = Stage::Finished;
    if (awaited > 0 && haveFinished(awaited)) finished.notify_one();
  }
}

/// Waits until so many of the first are finished.
void Lanes::State::await(std::unique_lock<std::mutex>& lock, std::size_t count) {
  awaited = count;
  finished.wait(lock, [this] { return haveFinished(awaited); });
  awaited = 0;
}

/// Hands on the first result, which is finished. Others go on meanwhile.
void Lanes::State::handOn(std::unique_lock<std::mutex>& lock) {
  Slot slot = std::move(slots.front());
  slots.pop_front();
  if (taken > 0) --taken;
  lock.unlock();
  use(slot.done);
  used.push_back(std::move(slot.done));
  lock.lock();
}

void Lanes::State::push(Done done, Stage stage) {
  std::unique_lock lock(mutex);
  if (slots.size() >= limit) await(lock, limit / 2);
  while (!slots.empty() && slots.front().stage == Stage::Finished) handOn(lock);
  slots.push_back({std::move(done), stage});
  waiting.notify_one();
}

Lanes::Lanes(std::size_t workers, const std::function<Worker()>& makeWorker,
             std::function<void(Done&)> use)
    : state_(std::make_unique<State>()) {
  state_->use = std::move(use);
  if (workers <= 1) {
    state_->alone = makeWorker();
    return;
  }
  state_->limit = workers * kHeldForEach;
  for (std::size_t i = 0; i < workers; ++i) {
    state_->threads.emplace_back(
        [state = state_.get(), worker = makeWorker()] { state->work(worker); });
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
  Done done = state_->fresh(std::move(text));
  if (!state_->alone) return state_->push(std::move(done), Stage::Waiting);
  state_->alone(done);
  state_->use(done);
  state_->used.push_back(std::move(done));
}

void Lanes::addReady(Done done) {
  if (!state_->alone) return state_->push(std::move(done), Stage::Finished);
  state_->use(done);
}

void Lanes::finish() {
  std::unique_lock lock(state_->mutex);
  while (!state_->slots.empty()) {
    state_->await(lock, 1);
    state_->handOn(lock);
  }
}

}  // namespace footbridge::app
