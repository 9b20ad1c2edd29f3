// A visit in several requests: the plan says what is next, here it is asked.

#include "deliver/sender_state.hpp"

namespace footbridge::deliver {

/// The next request of the job's plan. False if there can be none: then the row is held, or the
/// outbox failed.
bool Sender::State::fillPlan(Job& job, Request& request) {
  auto found = plans.find(job.id);
  if (found == plans.end()) {
    if (!bind(job)) return false;
    Result<Plan> plan = Plan::make(job.bundle, server.strategy);
    if (!plan) {
      Verdict verdict;
      verdict.reason = plan.issues().front().text + " " + plan.issues().front().mend;
      decide(std::move(job), std::move(verdict), {}, Steady::now());
      return false;
    }
    found = plans.emplace(job.id, *std::move(plan)).first;
  }
  std::string().swap(job.bundle);
  Call call = found->second.next();
  request.method = std::move(call.method);
  request.path = std::move(call.path);
  request.body = std::move(call.body);
  request.ifNoneExist = std::move(call.ifNoneExist);
  request.ifMatch = std::move(call.ifMatch);
  request.repeat = call.repeat;
  job.planned = true;
  return true;
}

/// A plan is kept until the row is settled: what passes is tried again behind what is stored.
void Sender::State::settlePlan(Job job, const Answer& answer, Moment now) {
  const auto plan = plans.find(job.id);
  std::optional<Verdict> verdict = plan->second.take(answer);
  if (!verdict) {
    start(std::move(job));
    return;
  }
  job.planned = false;
  const bool again =
      verdict->act == Act::Retry || verdict->act == Act::RetryBounded || verdict->act == Act::Renew;
  if (!again) plans.erase(plan);
  if (verdict->act == Act::Done && readsBack(job, *verdict, 200)) {
    readBack(std::move(job), *std::move(verdict), answer, now);
  } else {
    decide(std::move(job), *std::move(verdict), answer, now);
  }
}

}  // namespace footbridge::deliver
