#pragma once
// What waits to be sent, in the order that matters: one lane for each patient, first in first out,
// a lower revision of an assessment before a higher one.

#include <deque>
#include <map>
#include <string>
#include <unordered_map>

#include "deliver/pace.hpp"
#include "outbox/outbox.hpp"

namespace footbridge::deliver {

/// One row on its way.
struct Job {
  std::int64_t id = 0;
  std::string lane;
  std::string visit;
  std::int32_t revision = 1;
  std::int32_t attempts = 0;
  std::int32_t strikes = 0;  ///< see outbox::Row
  std::int32_t resources = 0;
  outbox::Step step = outbox::Step::Send;
  Moment due{};
  std::vector<std::string> instruments;  ///< that it is the first to mention, while it is under way
  std::size_t carried = 0;               ///< bytes of the bundle that came along and takes room
  std::string bundle;                    ///< "" if it has to be fetched from the outbox
  bool whole = false;  ///< the bundle is as it is sent; else it has to be unfolded
  outbox::Person person;
  bool asking = false;      ///< the record is being asked for the patient
  std::string subject;      ///< "Patient/12": where that one is
  std::string request;      ///< X-Request-Id of the last request that was no reading back
  bool identified = false;  ///< the record's patient was found to be ours
  bool reading = false;     ///< it was stored and is being read back
  bool planned = false;     ///< one of several requests of its plan is under way
  bool bound = false;       ///< it replaces a known version only
  bool released = false;    ///< by a person: replaces whatever version is there
  bool renewed = false;     ///< fresh credentials were tried for it
};

/// Due when the row says so, but no later than after the longest of all waits: a row may have been
/// written while the wall clock was wrong.
Job jobOf(const outbox::Row& row);

class Lanes {
 public:
  void add(Job job);

  /// The next job whose turn it is; its lane is closed until done() or again(). Nothing if none is
  /// due yet.
  std::optional<Job> next(Moment now);

  /// The job is finished: its lane goes on with the one behind.
  void done(const Job& job);

  /// The job has to be tried again at job.due; nothing of its lane goes before.
  void again(Job job);

  bool empty() const { return waiting_ == 0; }
  std::size_t size() const { return waiting_; }  ///< those under way not counted

  /// When the next job becomes due; the far future if none will by itself.
  Moment nextDue() const;

 private:
  struct Lane {
    std::deque<Job> jobs;
    bool closed = false;  ///< one is under way
    bool listed = false;  ///< stands in due_ or turn_
  };
  void list(const std::string& name, Lane& lane);

  std::unordered_map<std::string, Lane> lanes_;
  std::deque<std::string> turn_;            ///< lanes whose head may go at once
  std::multimap<Moment, std::string> due_;  ///< lanes whose head has to wait
  std::size_t waiting_ = 0;
};

}  // namespace footbridge::deliver
