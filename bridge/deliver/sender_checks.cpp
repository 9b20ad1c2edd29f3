// What the sender asks the record besides storing: whose patient, what version, and what it stored.

#include "deliver/identity.hpp"
#include "deliver/read_back.hpp"
#include "deliver/sender_state.hpp"
#include "deliver/versions.hpp"

namespace footbridge::deliver {
namespace {

constexpr std::int64_t kSampled = 10;  ///< one delivery in so many, by read_back = "sample"

std::string personKey(const outbox::Person& person) {
  return person.query + " " + person.birthDate + " " + person.family;
}

}  // namespace

/// A correction replaces the version that was delivered, not what somebody made of it since.
void Sender::State::bind(Job& job) {
  if (job.revision == 1 || job.released) return;
  const auto before = outbox.deliveredBefore(job.visit, job.revision);
  if (!before || !*before) return;
  const Result<std::string> earlier = outbox.payload((*before)->id);
  if (!earlier) return;
  job.bundle = withVersions(job.bundle, *earlier, (*before)->receipt);
  job.bound = bound(job.bundle);
}

/// Also what a bound update met instead is read: it may be our own, from before a crash.
bool Sender::State::readsBack(const Job& job, const Verdict& verdict, long status) const {
  if (job.bound && (status == 412 || status == 409)) return true;
  if (verdict.act != Act::Done) return false;
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

void Sender::State::settleReadBack(Job job, const Answer& answer, Moment now) {
  const Arrived& what = arrived.at(job.id);
  Verdict verdict = judgeReadBack(answer, what.bundle, what.verdict, job.person);
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

/// The record is asked for the patient of each bundle, once a run for each patient.
bool Sender::State::asksIdentity(const Job& job) const {
  return server.identity == config::Identity::Check && !job.identified && !job.reading &&
         job.person.check != outbox::Person::Check::None && job.step == outbox::Step::Send &&
         confirmed.count(personKey(job.person)) == 0;
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
    confirmed.insert(personKey(job.person));
  }
  job.identified = true;
  start(std::move(job));
}

}  // namespace footbridge::deliver
