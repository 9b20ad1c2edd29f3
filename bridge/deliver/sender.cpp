#include "deliver/sender.hpp"

#include <poll.h>

#include <algorithm>

#include "core/signing.hpp"
#include "deliver/bundle_marks.hpp"
#include "deliver/identity.hpp"
#include "deliver/scopes.hpp"
#include "deliver/sender_state.hpp"
#include "deliver/strategy.hpp"

namespace footbridge::deliver {
namespace {

using std::chrono::milliseconds;

constexpr std::size_t kMarksAtOnce = 64;  ///< settled in one transaction
constexpr milliseconds kMarksWait{20};    ///< or what came within this time
/// Bytes of bundles kept in memory; others are fetched, or made again.
constexpr std::size_t kCarried = std::size_t{64} << 20U;
constexpr std::size_t kRoomy = kCarried / 2;  ///< then what comes next is kept as well
constexpr milliseconds kNoProgress{500};      ///< nothing started for so long: it does not get on
constexpr milliseconds kLongestWait{1'000};   ///< between looks at the clock

/// By the wall clock, as rows have it.
outbox::Time timeOf(Moment moment) {
  return std::chrono::floor<milliseconds>(std::chrono::system_clock::now() +
                                          (moment - Steady::now()));
}

outbox::State stateFor(Act act) {
  switch (act) {
    case Act::Done:
      return outbox::State::Delivered;
    case Act::Refuse:
      return outbox::State::Refused;
    case Act::Hold:
    case Act::Renew:
      return outbox::State::Held;
    default:
      return outbox::State::Ready;
  }
}

}  // namespace

bool Sender::State::takeGiven() {
  std::vector<Job> jobs;
  bool more = false;
  {
    const std::scoped_lock lock(mutex);
    jobs.swap(given);
    more = !finished;
  }
  for (Job& job : jobs) lanes.add(std::move(job));
  return more;
}

bool Sender::State::stopAsked() const {
  pollfd asked{stopDescriptor, POLLIN, 0};
  return stopDescriptor >= 0 && ::poll(&asked, 1, 0) == 1;
}

/// Gets the bundle from the outbox if it did not come along. One that cannot be read is held.
bool Sender::State::fetch(Job& job) {
  if (!job.bundle.empty() && job.whole) return true;
  Result<std::string> bundle =
      job.bundle.empty() ? outbox.payload(job.id) : outbox.unfold(std::move(job.bundle));
  if (bundle) {
    job.bundle = *std::move(bundle);
    job.whole = true;
    if (job.resources == 0) job.resources = entriesOf(job.bundle);
    return true;
  }
  const Issue& issue = bundle.issues().front();
  if (issue.type == IssueType::NoStore) {
    outcome.failures = bundle.issues();
    return false;
  }
  Verdict verdict;
  verdict.reason = issue.text + " " + issue.mend;
  mark(job, verdict, outbox::State::Held, 0, Steady::now());
  return false;
}

void Sender::State::start(Job job) {
  Request request;
  request.tag = job.id;
  request.id = randomUuid();
  if (!job.reading) job.request = request.id;
  request.bearer = bearer;
  job.asking = asksIdentity(job);
  if (job.asking) {
    request.path = identityQuery(job.person);
  } else if (job.reading) {
    fillRead(job, request);
    job.bundle.clear();
  } else if (job.step == outbox::Step::Confirm) {
    request.path = reportQuery(job.bundle);
    job.bundle.clear();
  } else if (inSteps(server.strategy)) {
    if (!fillPlan(job, request)) return;
  } else {
    if (!bind(job)) return;
    request.method = "POST";
    request.body = withPatient(std::move(job.bundle), job.person, job.subject);
    job.bundle.clear();
  }
  flying.emplace(job.id, std::move(job));
  transport.start(std::move(request));
}

/// The bundle is on its way and no longer kept.
void Sender::State::makeRoom(Job& job) {
  const std::scoped_lock lock(mutex);
  carried -= std::exchange(job.carried, 0);
  ++started;
  room.notify_one();
}

void Sender::State::startDue(Moment now) {
  while (outcome.failures.empty() && flying.size() < pace.allowed(now)) {
    if (lanes.nextDue() > now || !authorised(now)) return;
    std::optional<Job> job = lanes.next(now);
    if (!job) return;
    makeRoom(*job);
    if (!fetch(*job)) {
      lanes.done(*job);
    } else if (claim(*job)) {
      start(*std::move(job));
    } else {
      waiting.push_back(*std::move(job));
    }
  }
}

/// A file that holds no token leaves the sender without one: nothing is sent bare.
void Sender::State::readBearerFile() {
  if (server.bearerFile.empty()) return;
  const Result<std::string> token = readBearer(server.bearerFile);
  noToken = !token;
  bearer = token ? *token : "";
  if (noToken) outcome.because = token.issues().front().text + " " + token.issues().front().mend;
}

/// Gets a token that is good for a while, if tokens are asked for. Until there is one nothing is
/// sent and nothing counted against any bundle.
bool Sender::State::authorised(Moment now) {
  if (!tokens.used()) return !noToken;
  if (noToken || now < nextToken) return false;
  Result<std::string> token = tokens.current(std::chrono::system_clock::now());
  if (token) {
    bearer = *std::move(token);
    unserved = 0;
    warnOfScopes();
    return true;
  }
  const Issue& issue = token.issues().front();
  outcome.because = issue.text + " " + issue.mend;
  noToken = issue.type != IssueType::Transient;
  nextToken = now + pace.wait(++unserved);
  return false;
}

void Sender::State::warnOfScopes() {
  std::string missing = tokens.ungranted();
  if (missing == ungranted) return;
  ungranted = std::move(missing);
  if (!ungranted.empty()) warn(ungrantedSentence(ungranted));
}

void Sender::State::mark(const Job& job, const Verdict& verdict, outbox::State state, long status,
                         Moment now) {
  if (marks.empty()) oldestMark = now;
  unsaved.insert(job.visit);
  const bool receipt =
      !verdict.stored.empty() || !verdict.evidence.empty() || state == outbox::State::Delivered;
  marks.push_back({job.id, state, job.step, job.attempts, timeOf(job.due), verdict.reason,
                   receipt ? receiptOf(verdict, status, job.request) : "", job.strikes,
                   job.resources});
  events.push_back({job.id, state, job.attempts, verdict.reason, verdict.created(),
                    verdict.present(), job.request});
}

void Sender::State::settle(const Answer& answer, Moment now) {
  auto node = flying.extract(answer.tag);
  Job job = std::move(node.mapped());
  if (job.asking) {
    settleIdentity(std::move(job), answer, now);
    return;
  }
  if (job.reading) {
    settleReadBack(std::move(job), answer, now);
    return;
  }
  if (job.planned) {
    settlePlan(std::move(job), answer, now);
    return;
  }
  Verdict verdict = job.step == outbox::Step::Confirm
                        ? judgeSearch(answer)
                        : judge(answer, static_cast<std::size_t>(job.resources), "transaction");
  if (readsBack(job, verdict, answer.status)) {
    readBack(std::move(job), std::move(verdict), answer, now);
  } else {
    decide(std::move(job), std::move(verdict), answer, now);
  }
}

void Sender::State::decide(Job job, Verdict verdict, const Answer& answer, Moment now) {
  unclaim(job, verdict.act);
  if (verdict.act == Act::Renew && !job.renewed && (tokens.used() || !server.bearerFile.empty())) {
    job.renewed = true;
    tokens.forget();
    readBearerFile();
    job.due = now;
    lanes.again(std::move(job));
    return;
  }
  if (answer.wire == Wire::Answered || answer.wire == Wire::TooLarge) pace.heard();
  pace.note(verdict, answer.retryAfter, now);
  ++job.attempts;
  if (verdict.act == Act::Confirm) {
    job.step = outbox::Step::Confirm;
    job.attempts = 1;
  }
  job.strikes = verdict.act == Act::RetryBounded ? job.strikes + 1 : 0;
  if (job.strikes >= kBoundedTries) verdict.act = Act::Hold;
  const outbox::State state = stateFor(verdict.act);
  if (state == outbox::State::Ready) {
    job.due = now + std::max<milliseconds>(pace.wait(job.attempts),
                                           answer.retryAfter.value_or(std::chrono::seconds(0)));
    mark(job, verdict, state, answer.status, now);
    lanes.again(std::move(job));
    return;
  }
  mark(job, verdict, state, answer.status, now);
  lanes.done(job);
}

/// Group commit: marks of several answers in one transaction. A sender with nothing under way waits
/// for others all the same: the bundles are made slower than they are sent.
bool Sender::State::marksDue(Moment now) const {
  return marks.size() >= kMarksAtOnce || (!marks.empty() && now - oldestMark >= kMarksWait);
}

void Sender::State::saveMarks(Moment now) {
  if (marks.empty() || !outcome.failures.empty()) return;
  outcome.failures = outbox.settle(marks, timeOf(now));
  if (!outcome.failures.empty()) return;
  for (const Event& event : events) {
    outcome.delivered += event.state == outbox::State::Delivered ? 1U : 0U;
    outcome.refused += event.state == outbox::State::Refused ? 1U : 0U;
    outcome.held += event.state == outbox::State::Held ? 1U : 0U;
    tell(event);
  }
  marks.clear();
  unsaved.clear();
  events.clear();
}

/// False when the run should end; `outcome.because` then says why, if something is left.
bool Sender::State::goesOn(bool more, Moment now) {
  if (!outcome.failures.empty()) return false;
  if (stopAsked()) {
    outcome.stopped = true;
    outcome.because = "Told to stop.";
    return false;
  }
  if (noToken && flying.empty()) return false;  // outcome.because says why
  if (pace.faulty()) {
    outcome.because = "The destination itself is at fault: nothing more was sent.";
    return false;
  }
  if (lanes.empty() && flying.empty()) {
    pace.idle(now);
    return more;
  }
  const Moment next = nextStart();
  if (flying.empty() && !lanes.empty() && pace.exhausted(now, next)) {
    outcome.because = "No progress for too long, or none to be expected soon.";
    return false;
  }
  return true;
}

/// When something may be sent next.
Moment Sender::State::nextStart() const {
  return std::max({lanes.nextDue(), pace.pausedUntil(), nextToken});
}

milliseconds Sender::State::waitToStart(Moment now) const {
  const Moment next = nextStart();
  if (next <= now) return flying.empty() ? milliseconds(0) : kLongestWait;
  if (next - now >= kLongestWait) return kLongestWait;
  return std::chrono::ceil<milliseconds>(next - now);
}

milliseconds Sender::State::waitTime(Moment now) const {
  const milliseconds wait = waitToStart(now);
  if (marks.empty()) return wait;
  return std::clamp(std::chrono::ceil<milliseconds>(oldestMark + kMarksWait - now), milliseconds(0),
                    wait);
}

/// Lets what is under way end, within the grace; the rest is left ready.
void Sender::State::drain() {
  const Moment end = Steady::now() + patience.graceAtStop;
  transport.ignoreStop();
  while (!flying.empty() && Steady::now() < end) {
    for (const Answer& answer : transport.wait(milliseconds(100))) {
      settle(answer, Steady::now());
    }
  }
  outcome.left = flying.size() + waiting.size();
  flying.clear();
  saveMarks(Steady::now());
}

Sender::Sender(const config::Server& server, Patience patience, outbox::Outbox& outbox,
               std::function<void(const Event&)> tell, int stopDescriptor)
    : state_(std::make_unique<State>(server, std::move(patience), outbox, std::move(tell),
                                     stopDescriptor)) {}

Sender::~Sender() = default;

void Sender::warnBy(std::function<void(const std::string&)> warn) {
  state_->warn = std::move(warn);
}

void Sender::give(std::vector<Job> jobs) {
  {
    const std::scoped_lock lock(state_->mutex);
    for (Job& job : jobs) {
      const bool room = state_->carried < kCarried;
      if (!room) std::string().swap(job.bundle);
      job.carried = job.bundle.size();
      state_->carried += job.carried;
      state_->given.push_back(std::move(job));
    }
  }
  state_->transport.wake();
}

void Sender::waitForRoom() {
  State& s = *state_;
  std::unique_lock lock(s.mutex);
  while (s.carried > kRoomy && !s.ended && s.started != s.stuckAt) {
    const std::size_t before = s.started;
    s.room.wait_for(lock, kNoProgress, [&s, before] { return s.ended || s.started != before; });
    if (s.started == before) s.stuckAt = before;
  }
}

void Sender::finish() {
  {
    const std::scoped_lock lock(state_->mutex);
    state_->finished = true;
  }
  state_->transport.wake();
}

Outcome Sender::run() {
  State& s = *state_;
  s.readBearerFile();
  while (true) {
    const bool more = s.takeGiven();
    const Moment now = Steady::now();
    if (s.marksDue(now)) s.saveMarks(now);
    if (!s.goesOn(more, now)) break;
    s.startDue(now);
    for (const Answer& answer : s.transport.wait(s.waitTime(now))) {
      s.settle(answer, Steady::now());
    }
  }
  s.drain();
  {
    const std::scoped_lock lock(s.mutex);
    s.ended = true;
    s.room.notify_one();
  }
  s.takeGiven();
  s.outcome.left += s.lanes.size();
  const bool noAnswer = s.pace.unreachable() || (s.unserved > 0 && !s.noToken);
  s.outcome.unreachable = s.outcome.left > 0 && noAnswer;
  return s.outcome;
}

}  // namespace footbridge::deliver
