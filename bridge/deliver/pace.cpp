#include "deliver/pace.hpp"

#include <algorithm>

namespace footbridge::deliver {

using std::chrono::milliseconds;
using std::chrono::seconds;

Pace::Pace(Patience patience, int connections, Moment now)
    : patience_(std::move(patience)),
      connections_(static_cast<std::size_t>(connections)),
      random_(patience_.seed),
      lastProgress_(now) {
  if (patience_.backOff.empty()) patience_.backOff.assign(kBackOff.begin(), kBackOff.end());
}

std::size_t Pace::allowed(Moment now) const {
  if (now < pausedUntil_) return 0;
  return single_ ? 1 : connections_;
}

milliseconds Pace::wait(std::int32_t attempts) {
  const std::size_t last = patience_.backOff.size() - 1;
  const std::size_t step =
      std::min<std::size_t>(static_cast<std::size_t>(std::max(attempts, 1)) - 1, last);
  const auto share = std::uniform_int_distribution<std::int64_t>(500, 1'500)(random_);
  return milliseconds(std::max<std::int64_t>(1, patience_.backOff[step].count() * share / 1'000));
}

void Pace::note(const Verdict& verdict, std::optional<seconds> retryAfter, Moment now) {
  if (retryAfter) pausedUntil_ = std::max<Moment>(pausedUntil_, now + *retryAfter);
  if (verdict.about == About::Moment) {
    single_ = true;
    failed_ = true;
    if (++failures_ < kBreakerFailures) return;
    failures_ = 0;
    pausedUntil_ = std::max<Moment>(pausedUntil_, now + wait(++pauses_));
    return;
  }
  answered_ = true;
  const bool unclear = verdict.about == About::Unclear && !delivered_;
  if (verdict.about == About::Destination || unclear) {
    ++destinationFaults_;
    return;
  }
  destinationFaults_ = 0;
  failures_ = 0;
  pauses_ = 0;
  single_ = false;
  if (verdict.act == Act::Done) delivered_ = true;
  if (verdict.act == Act::Done || verdict.act == Act::Refuse || verdict.act == Act::Hold) {
    lastProgress_ = now;
  }
}

bool Pace::exhausted(Moment now, Moment next) const {
  if (!failed_ && !answered_) return false;  // nothing was tried yet
  const Moment end = lastProgress_ + patience_.giveUpAfter;
  return now >= end || next >= end;
}

}  // namespace footbridge::deliver
