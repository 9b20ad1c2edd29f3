#include "deliver/lanes.hpp"

#include <algorithm>

namespace footbridge::deliver {
namespace {

using std::chrono::milliseconds;

/// With the most that is added to it by chance.
constexpr milliseconds kLongestBackOff = kBackOff.back() * 3 / 2;

Moment momentOf(outbox::Time due) {
  const auto left = std::chrono::floor<milliseconds>(due - std::chrono::system_clock::now());
  return Steady::now() + std::clamp(left, milliseconds(0), kLongestBackOff);
}

}  // namespace

Job jobOf(const outbox::Row& row) {
  Job out;
  out.id = row.id;
  out.lane = row.lane;
  out.visit = row.visit;
  out.revision = row.revision;
  out.attempts = row.attempts;
  out.strikes = row.strikes;
  out.resources = row.resources;
  out.step = row.step;
  out.due = momentOf(row.due);
  out.person = row.person;
  out.released = row.released;
  return out;
}

void Lanes::list(const std::string& name, Lane& lane) {
  if (lane.closed || lane.listed || lane.jobs.empty()) return;
  lane.listed = true;
  if (lane.jobs.front().attempts == 0) {
    turn_.push_back(name);
  } else {
    due_.emplace(lane.jobs.front().due, name);
  }
}

void Lanes::add(Job job) {
  const std::string name = job.lane;
  Lane& lane = lanes_[name];
  // Before the first higher revision of the same assessment, else at the end.
  const auto place = std::find_if(lane.jobs.begin(), lane.jobs.end(), [&job](const Job& other) {
    return other.visit == job.visit && other.revision > job.revision;
  });
  lane.jobs.insert(place, std::move(job));
  ++waiting_;
  list(name, lane);
}

std::optional<Job> Lanes::next(Moment now) {
  while (!due_.empty() && due_.begin()->first <= now) {
    turn_.push_back(std::move(due_.begin()->second));
    due_.erase(due_.begin());
  }
  if (turn_.empty()) return std::nullopt;
  Lane& lane = lanes_[turn_.front()];
  turn_.pop_front();
  lane.listed = false;
  lane.closed = true;
  Job out = std::move(lane.jobs.front());
  lane.jobs.pop_front();
  --waiting_;
  return out;
}

void Lanes::done(const Job& job) {
  const auto found = lanes_.find(job.lane);
  found->second.closed = false;
  if (found->second.jobs.empty()) {
    lanes_.erase(found);
  } else {
    list(job.lane, found->second);
  }
}

void Lanes::again(Job job) {
  const std::string name = job.lane;
  Lane& lane = lanes_[name];
  lane.closed = false;
  lane.jobs.push_front(std::move(job));
  ++waiting_;
  list(name, lane);
}

Moment Lanes::nextDue() const {
  if (!turn_.empty()) return Moment::min();
  return due_.empty() ? Moment::max() : due_.begin()->first;
}

}  // namespace footbridge::deliver
