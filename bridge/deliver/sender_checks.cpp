// What the sender asks besides storing: whose patient, what version, what was stored; and which
// bundles may be under way together.

#include <algorithm>

#include "deliver/bundle_marks.hpp"
#include "deliver/identity.hpp"
#include "deliver/read_back.hpp"
#include "deliver/sender_state.hpp"
#include "deliver/strategy.hpp"
#include "deliver/versions.hpp"

namespace footbridge::deliver {
namespace {

constexpr std::int64_t kSampled = 10;  ///< one delivery in so many, by read_back = "sample"

std::string personKey(const outbox::Person& person) {
  return person.query + " " + person.birthDate + " " + person.family;
}

Verdict unbindable(const Issue& issue) {
  Verdict out;
  out.reason = "What was delivered before cannot be read (" + issue.text +
               "), so that nobody would notice if somebody changed it in the record since. Look "
               "there, then release it: that replaces what is there.";
  return out;
}

}  // namespace

/// What was delivered of a visit before this revision, perhaps just now; nothing if nothing was.
Result<std::optional<Before>> Sender::State::before(const Job& job) {
  if (unsaved.contains(job.visit)) saveMarks(Steady::now());
  if (!outcome.failures.empty()) return outcome.failures;
  const auto row = outbox.deliveredBefore(job.visit, job.revision);
  if (!row) return row.issues();
  if (!*row) return std::optional<Before>{};
  Result<std::string> bundle = outbox.payload((*row)->id);
  if (!bundle) return bundle.issues();
  return std::optional(Before{*std::move(bundle), (*row)->receipt});
}

/// A correction replaces the version that was delivered, not what somebody made of it since. False
/// if it cannot be bound to that: then the row is held, or still ready because the outbox failed.
bool Sender::State::bind(Job& job) {
  if (job.revision == 1 || job.released) return true;
  const Result<std::optional<Before>> delivered = before(job);
  if (delivered) {
    if (!*delivered) return true;
    job.bundle = withVersions(job.bundle, (*delivered)->bundle, (*delivered)->receipt);
    job.bound = bound(job.bundle);
    return true;
  }
  const Issue& issue = delivered.issues().front();
  if (issue.type == IssueType::NoStore) {
    outcome.failures = delivered.issues();
    lanes.again(std::move(job));
  } else {
    decide(std::move(job), unbindable(issue), {}, Steady::now());
  }
  return false;
}

/// Also what a bound update met instead is read: it may be our own, from before a crash. And what
/// was found after it was taken without saying that it is stored, where an earlier one may be
/// found.
bool Sender::State::readsBack(const Job& job, const Verdict& verdict, long status) const {
  if (job.bound && (status == 412 || status == 409)) return true;
  if (verdict.act != Act::Done) return false;
  const bool replaces = job.revision > 1 || server.strategy == config::Strategy::ClientIds ||
                        server.strategy == config::Strategy::ConditionalUpdate;
  if (job.step == outbox::Step::Confirm && replaces) return true;
  return server.readBack == config::ReadBack::Always ||
         (server.readBack == config::ReadBack::Sample && job.id % kSampled == 0);
}

void Sender::State::readBack(Job job, Verdict verdict, const Answer& answer, Moment now) {
  Result<std::string> bundle = outbox.payload(job.id);
  if (!bundle || readBackRequest(*bundle, verdict, job.person).empty()) {
    decide(std::move(job), std::move(verdict), answer, now);
    return;
  }
  job.reading = true;
  arrived[job.id] = {std::move(verdict), *std::move(bundle), answer.status};
  start(std::move(job));
}

/// One batch of reads, or one by one where the server may take no batches.
void Sender::State::fillRead(const Job& job, Request& request) {
  const Arrived& what = arrived.at(job.id);
  std::string batch = readBackRequest(what.bundle, what.verdict, job.person);
  if (!readsSingly(server.strategy) && !batchless) {
    request.method = "POST";
    request.body = std::move(batch);
    return;
  }
  request.path = reads.try_emplace(job.id, batch).first->second.next();
}

void Sender::State::settleReadBack(Job job, const Answer& last, Moment now) {
  Answer answer = last;
  if (const auto found = reads.find(job.id); found != reads.end()) {
    std::optional<Answer> whole = found->second.take(last);
    if (!whole) {
      start(std::move(job));
      return;
    }
    answer = *std::move(whole);
    reads.erase(found);
  } else if (refusesBatch(last)) {
    batchless = true;
    start(std::move(job));
    return;
  }
  const Arrived& what = arrived.at(job.id);
  Verdict verdict = judgeReadBack(answer, what.bundle, what.verdict, job.person);
  if (job.step == outbox::Step::Confirm && verdict.act == Act::Hold) {
    verdict.act = Act::RetryBounded;  // it is stored later, perhaps
  }
  if (!verdict.evidence.empty()) {
    verdict.reason +=
        " Both versions are in `outbox show`. Correct the record or send a new revision; "
        "releasing this compares again.";
  }
  if (what.verdict.act != Act::Done && verdict.act == Act::Hold) {
    verdict.reason = "Somebody else changed in the record what this correction replaces. " +
                     verdict.reason + " Releasing this replaces what is there now.";
  }
  const Act act = verdict.act;
  const bool again = act == Act::Retry || act == Act::RetryBounded || act == Act::Renew;
  if (!again) arrived.erase(job.id);
  job.reading = again;
  decide(std::move(job), std::move(verdict), answer, now);
}

bool Sender::State::isConfirmed(const outbox::Person& person) const {
  const auto found = confirmed.find(personKey(person));
  return found != confirmed.end() &&
         std::chrono::steady_clock::now() - found->second < patience.confirmedFor;
}

/// The record is asked for the patient of each bundle, unless it confirmed that patient shortly
/// before and the bundle need not say where that one is.
bool Sender::State::asksIdentity(const Job& job) const {
  const bool anew = server.patientBy == config::PatientBy::Found;
  return server.identity == config::Identity::Check && !job.identified && !job.reading &&
         job.person.check != outbox::Person::Check::None && job.step == outbox::Step::Send &&
         (anew || !isConfirmed(job.person));
}

void Sender::State::settleIdentity(Job job, const Answer& answer, Moment now) {
  Verdict verdict = judgeIdentity(answer, job.person);
  if (verdict.act != Act::Done) {
    std::string().swap(job.bundle);
    decide(std::move(job), std::move(verdict), answer, now);
    return;
  }
  // A patient that does not exist yet is asked for again, since then it does.
  if (job.person.check == outbox::Person::Check::MustExist) {
    confirmed[personKey(job.person)] = std::chrono::steady_clock::now();
  }
  if (server.patientBy == config::PatientBy::Found) job.subject = patientPlace(answer, job.person);
  job.identified = true;
  start(std::move(job));
}

/// A conditional create is no lock: on many servers two bundles that arrive at once can both make
/// the instrument they share, and from then on its condition fails for all. So only one is under
/// way that mentions an instrument first.
bool Sender::State::claim(Job& job) {
  job.instruments = instrumentsOf(job.bundle);
  std::erase_if(job.instruments,
                [this](const std::string& each) { return instruments.count(each) > 0; });
  const bool taken =
      std::any_of(job.instruments.begin(), job.instruments.end(),
                  [this](const std::string& each) { return claimed.count(each) > 0; });
  if (!taken) claimed.insert(job.instruments.begin(), job.instruments.end());
  return !taken;
}

void Sender::State::unclaim(const Job& job, Act act) {
  if (job.instruments.empty()) return;
  for (const std::string& each : job.instruments) {
    claimed.erase(each);
    if (act == Act::Done) instruments.insert(each);
  }
  for (Job& each : waiting) lanes.again(std::move(each));
  waiting.clear();
}

}  // namespace footbridge::deliver
