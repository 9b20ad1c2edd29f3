#include "app/couriers.hpp"

#include <sys/eventfd.h>
#include <unistd.h>

#include <condition_variable>
#include <mutex>
#include <optional>
#include <thread>
#include <unordered_set>
#include <utility>

#include "app/deployment.hpp"
#include "app/feeder.hpp"
#include "app/filing.hpp"
#include "deliver/probe.hpp"

namespace footbridge::app {
namespace {

using std::chrono::milliseconds;

constexpr std::size_t kFilesAtOnce = 64;
constexpr milliseconds kFirstPause{30'000};  ///< after a destination was found to be at fault
constexpr milliseconds kLongestPause{3'600'000};
/// A service never gives up a destination that merely cannot be reached.
constexpr milliseconds kForEver = std::chrono::hours(24 * 365);

}  // namespace

struct Couriers::Courier {
  const config::Destination to;
  outbox::Outbox& outbox;
  const CourierNews& news;
  int stopDescriptor = ::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);

  std::mutex mutex;
  std::condition_variable wake;
  std::unique_ptr<Feeder> feeder;  ///< of record servers
  bool news_ = false;              ///< there may be something to do
  bool stopping = false;
  bool again_ = false;  ///< a person decided something: no pause lasts
  milliseconds pause = kFirstPause;
  std::unordered_set<std::string> warned;  ///< sentences that were told
  std::jthread thread;

  Courier(config::Destination where, outbox::Outbox& from, const CourierNews& teller)
      : to(std::move(where)), outbox(from), news(teller) {
    if (to.kind == config::Kind::Server) feeder = std::make_unique<Feeder>(outbox);
    thread = std::jthread([this] { run(); });
  }

  ~Courier() {
    stop();
    if (thread.joinable()) thread.join();
    ::close(stopDescriptor);
  }
  Courier(const Courier&) = delete;
  Courier& operator=(const Courier&) = delete;

  void give(std::vector<deliver::Job> jobs) {
    {
      const std::scoped_lock lock(mutex);
      news_ = true;
    }
    if (feeder) feeder->give(std::move(jobs));
    wake.notify_one();
  }

  void lookAgain() {
    {
      const std::scoped_lock lock(mutex);
      news_ = true;
      again_ = true;
    }
    static_cast<void>(::eventfd_write(stopDescriptor, 1));
    wake.notify_one();
  }

  void stop() {
    {
      const std::scoped_lock lock(mutex);
      stopping = true;
    }
    static_cast<void>(::eventfd_write(stopDescriptor, 1));
    wake.notify_one();
  }

  void run() {
    while (!ended()) to.kind == config::Kind::Server ? send() : file();
  }

  bool ended() {
    const std::scoped_lock lock(mutex);
    return stopping;
  }

  /// Until the pause is over, or somebody says that there is a reason to go on.
  void rest(milliseconds atMost) {
    std::unique_lock lock(mutex);
    wake.wait_for(lock, atMost, [this] { return stopping || again_; });
    again_ = false;
  }

  void send();
  void giveUp(const std::string& because);
  void warn(const std::string& sentence);
  void tell(const deliver::Event& event);
  void file();
  std::optional<milliseconds> fileSome();
};

void Couriers::Courier::tell(const deliver::Event& event) {
  feeder->tried(event.id);
  if (event.state == outbox::State::Delivered && pause != kFirstPause) {
    pause = kFirstPause;
    news.trouble(to.name, "");
  }
  news.event(to.name, event);
}

/// One run of a sender: as long as the destination is not at fault itself, and nobody decides about
/// rows. What was stored before it began is given to it first; the rest comes from the feeder.
void Couriers::Courier::send() {
  deliver::Patience patience;
  patience.backOff = to.server.backOff;
  patience.giveUpAfter = kForEver;
  config::Server server = to.server;
  const deliver::Choice choice = deliver::chooseNow(server, to.shape.fhir);
  for (const std::string& sentence : choice.warnings) warn(sentence);
  if (!choice.possible) return giveUp(deliver::impossible(choice));
  server.strategy = choice.strategy;
  {
    const std::scoped_lock lock(mutex);
    again_ = false;
    eventfd_t raised = 0;
    if (!stopping) static_cast<void>(::eventfd_read(stopDescriptor, &raised));
  }
  deliver::Sender sender(
      server, patience, outbox, [this](const deliver::Event& event) { tell(event); },
      stopDescriptor);
  sender.warnBy([this](const std::string& sentence) { warn(sentence); });
  feeder->expect();
  const auto rows = outbox.list({to.name, outbox::State::Ready, 0, 0});
  std::vector<deliver::Job> jobs;
  std::unordered_set<std::int64_t> told;
  for (std::size_t i = 0; rows && i < rows->size(); ++i) {
    jobs.push_back(deliver::jobOf((*rows)[i]));
    told.insert(jobs.back().id);
  }
  sender.give(std::move(jobs));
  feeder->feed(sender, std::move(told));
  const deliver::Outcome out = sender.run();
  feeder->end();
  if (out.stopped) return;
  const std::string because =
      out.failures.empty() ? out.because : "The outbox failed: " + out.failures.front().text;
  giveUp(because.empty() ? "Sending ended." : because);
}

/// Says that nothing arrives there, and waits for the next try.
void Couriers::Courier::giveUp(const std::string& because) {
  news.trouble(to.name, because);
  rest(pause);
  pause = std::min(2 * pause, kLongestPause);
}

/// Once for each sentence.
void Couriers::Courier::warn(const std::string& sentence) {
  if (warned.insert(sentence).second) news.warning(to.name, sentence);
}

/// Files what is ready; gives the pause that is due if that failed.
std::optional<milliseconds> Couriers::Courier::fileSome() {
  const auto rows = outbox.list({to.name, outbox::State::Ready, 0, kFilesAtOnce});
  std::vector<outbox::Mark> marks;
  std::string because = rows ? "" : rows.issues().front().text;
  for (std::size_t i = 0; rows && i < rows->size(); ++i) {
    std::optional<outbox::Mark> mark = fileRow(outbox, to.folder, (*rows)[i], because);
    if (!mark) break;
    marks.push_back(*std::move(mark));
  }
  if (const Issues failed = outbox.settle(marks, clockTime()); !failed.empty()) {
    because = failed.front().text;
  } else {
    for (const outbox::Mark& mark : marks) {
      news.event(to.name, {mark.id, mark.state, mark.attempts, mark.reason, 0, 0});
    }
  }
  news.trouble(to.name, because);
  if (!because.empty()) return kFirstPause;
  if (!marks.empty()) return milliseconds(0);
  return std::nullopt;
}

void Couriers::Courier::file() {
  const std::optional<milliseconds> soon = fileSome();
  std::unique_lock lock(mutex);
  const auto called = [this] { return stopping || news_; };
  if (!soon) {
    wake.wait(lock, called);
  } else if (soon->count() > 0) {
    wake.wait_for(lock, *soon, [this] { return stopping || again_; });
  }
  news_ = false;
  again_ = false;
}

Couriers::Couriers(const std::vector<config::Destination>& to, outbox::Outbox& outbox,
                   CourierNews news)
    : news_(std::move(news)) {
  for (const config::Destination& each : to) {
    couriers_.push_back(std::make_unique<Courier>(each, outbox, news_));
  }
}

Couriers::~Couriers() { stop(); }

void Couriers::give(std::size_t destination, std::vector<deliver::Job> jobs) {
  couriers_[destination]->give(std::move(jobs));
}

void Couriers::lookAgain() {
  for (const std::unique_ptr<Courier>& each : couriers_) each->lookAgain();
}

void Couriers::stop() {
  for (const std::unique_ptr<Courier>& each : couriers_) each->stop();
  couriers_.clear();
}

}  // namespace footbridge::app
