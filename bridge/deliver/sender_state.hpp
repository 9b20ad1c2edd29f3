#pragma once
// What the parts of Sender share; not for other folders.

#include <condition_variable>
#include <mutex>
#include <unordered_map>
#include <unordered_set>

#include "deliver/judge.hpp"
#include "deliver/plan.hpp"
#include "deliver/reads.hpp"
#include "deliver/sender.hpp"
#include "deliver/token.hpp"
#include "deliver/transport.hpp"

namespace footbridge::deliver {

/// What was answered to a bundle until it is read back.
struct Arrived {
  Verdict verdict;
  std::string bundle;
  long status = 0;
};

/// A revision that was delivered.
struct Before {
  std::string bundle;
  std::string receipt;
};

struct Sender::State {
  config::Server server;
  outbox::Outbox& outbox;
  std::function<void(const Event&)> tell;
  std::function<void(const std::string&)> warn = [](const std::string&) {};
  int stopDescriptor;
  Transport transport;
  Pace pace;
  Patience patience;
  Lanes lanes;
  std::unordered_map<std::int64_t, Job> flying;
  std::vector<outbox::Mark> marks;
  std::vector<Event> events;
  std::unordered_set<std::string> unsaved;  ///< visits of these marks
  Moment oldestMark{};
  std::unordered_map<std::string, Moment> confirmed;  ///< patients found to be ours, and when
  std::unordered_set<std::string> instruments;  ///< that the record has, as was seen in this run
  std::unordered_set<std::string> claimed;  ///< that something under way is the first to mention
  std::vector<Job> waiting;                 ///< for one of those
  std::unordered_map<std::int64_t, Arrived> arrived;  ///< and is to be read back
  std::unordered_map<std::int64_t, Plan> plans;       ///< of visits sent in several requests
  std::unordered_map<std::int64_t, Reads> reads;      ///< where what was stored is read singly
  bool batchless = false;                             ///< the server was seen to refuse batches
  std::string bearer;
  Tokens tokens;
  Moment nextToken{};         ///< not asked for before, after a failure
  std::int32_t unserved = 0;  ///< failures of the token endpoint in a row
  bool noToken = false;       ///< and none is to be had without a person
  std::string ungranted;      ///< scopes that were told to be missing
  Outcome outcome;

  std::mutex mutex;                       ///< around all below
  std::size_t carried = 0;                ///< bytes of bundles in memory that are not under way
  std::size_t started = 0;                ///< jobs that were under way so far
  std::size_t stuckAt = ~std::size_t{0};  ///< how many had been when waiting for room was in vain
  std::condition_variable room;           ///< some was made, or run() has ended
  std::vector<Job> given;
  bool finished = false;
  bool ended = false;

  State(const config::Server& where, Patience how, outbox::Outbox& from,
        std::function<void(const Event&)> teller, int stop)
      : server(where),
        outbox(from),
        tell(std::move(teller)),
        stopDescriptor(stop),
        transport(where, stop),
        pace(how, where.connections, Steady::now()),
        patience(std::move(how)),
        tokens(where) {}

  bool takeGiven();
  void makeRoom(Job& job);
  bool stopAsked() const;
  void startDue(Moment now);
  bool fetch(Job& job);
  bool claim(Job& job);
  void unclaim(const Job& job, Act act);
  void start(Job job);
  void settle(const Answer& answer, Moment now);
  bool asksIdentity(const Job& job) const;
  bool isConfirmed(const outbox::Person& person) const;
  void settleIdentity(Job job, const Answer& answer, Moment now);
  Result<std::optional<Before>> before(const Job& job);
  bool bind(Job& job);
  bool readsBack(const Job& job, const Verdict& verdict, long status) const;
  void readBack(Job job, Verdict verdict, const Answer& answer, Moment now);
  void settleReadBack(Job job, const Answer& answer, Moment now);
  void fillRead(const Job& job, Request& request);
  bool fillPlan(Job& job, Request& request);
  void settlePlan(Job job, const Answer& answer, Moment now);
  void decide(Job job, Verdict verdict, const Answer& answer, Moment now);
  void mark(const Job& job, const Verdict& verdict, outbox::State state, long status, Moment now);
  bool marksDue(Moment now) const;
  void saveMarks(Moment now);
  bool goesOn(bool more, Moment now);
  std::chrono::milliseconds waitToStart(Moment now) const;
  std::chrono::milliseconds waitTime(Moment now) const;
  void drain();
  void readBearerFile();
  bool authorised(Moment now);
  void warnOfScopes();
  Moment nextStart() const;
};

}  // namespace footbridge::deliver
