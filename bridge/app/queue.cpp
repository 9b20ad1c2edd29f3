#include "app/queue.hpp"

#include "app/deployment.hpp"
#include "app/inputs.hpp"
#include "app/shape.hpp"
#include "app/withdraw.hpp"
#include "package/markup.hpp"
#include "package/retract.hpp"

namespace footbridge::app {
namespace {

using deliver::Job;

constexpr std::size_t kGroup = 64;  ///< assessments stored in one transaction

/// Entries of a bundle of ours: quotes inside texts are escaped, so the mark stands nowhere else.
/// It is looked for by its one rare letter, which takes a twentieth of the time of a plain search.
std::int32_t entriesOf(std::string_view bundle) {
  constexpr std::string_view kMark = "\"request\":{\"method\":\"";
  constexpr std::size_t kRare = 3;  // the q
  std::int32_t out = 0;
  for (std::size_t at = bundle.find(kMark[kRare], kRare); at != std::string_view::npos;
       at = bundle.find(kMark[kRare], at + 1)) {
    out += bundle.substr(at - kRare, kMark.size()) == kMark ? 1 : 0;
  }
  return out;
}

package::BundleOptions bundleOptions(const Run& run) {
  const SendOptions& options = run.options;
  const config::Destination& to = run.to;
  package::BundleOptions out = options.bundle;
  chooseShape(options.shape, to.shape, run.world.tables, out);  // checked before anything was read
  const std::string& patient = options.patient.empty() ? to.patient : options.patient;
  if (patient == "logical") out.patientReference = package::PatientReference::Logical;
  if (patient == "create") out.patientReference = package::PatientReference::Create;
  return out;
}

outbox::Person personOf(const Assessment& assessment, package::PatientReference reference,
                        const Realm& realm) {
  using package::PatientReference;
  using Check = outbox::Person::Check;
  if (reference == PatientReference::Logical) return {};
  const Identifier& identifier = package::mainIdentifier(assessment.patient, realm);
  return {reference == PatientReference::Create ? Check::MayExist : Check::MustExist,
          identifier.system,
          identifier.value,
          package::searchValue(identifier.system) + "%7C" + package::searchValue(identifier.value),
          assessment.patient.birthDate ? text(*assessment.patient.birthDate) : "",
          assessment.patient.family};
}

deliver::Job jobFor(outbox::Entry& entry, const outbox::Added& how) {
  deliver::Job job;
  job.id = how.id;
  job.lane = how.lane;
  job.visit = how.visit;
  job.revision = entry.revision;
  job.resources = entry.resources;
  job.person = std::move(entry.person);
  job.bundle = std::move(entry.bundle);
  return job;
}

}  // namespace

Queue::Queue(Run& run, Give give)
    : run_(run),
      give_(std::move(give)),
      options_(bundleOptions(run)),
      writer_(run.world.tables, options_),
      setAside_(run.config.data / "set-aside", formOf(run.options.input)) {}

void Queue::finish() {
  store();
  append(run_.failures, setAside_.finish());
}

void Queue::take(const intake::Text& text, const Outcome& outcome) {
  if (!run_.failures.empty()) return;
  if (outcome.refused()) {
    ++run_.setAside;
    run_.receipts.remark(outcome);
    append(run_.failures, setAside_.take(text, outcome));
    return;
  }
  push(outcome);
  if (entries_.size() >= kGroup) store();
}

void Queue::store() {
  if (entries_.empty() || !run_.failures.empty()) return;
  const Result<std::vector<outbox::Added>> added = run_.outbox.add(entries_, clockTime());
  if (!added) {
    run_.failures = added.issues();
    return;
  }
  std::vector<Job> jobs;
  for (std::size_t i = 0; i < entries_.size(); ++i) {
    const Sent sent{{entries_[i].system, entries_[i].value}, entries_[i].revision};
    const outbox::Added& how = (*added)[i];
    if (how.how != outbox::Added::How::New) {
      run_.receipts.queued(how, sent);
      continue;
    }
    if (!holds_[i].empty()) {
      hold(how, sent, holds_[i]);
      continue;
    }
    run_.receipts.know(how.id, sent);
    jobs.push_back(jobFor(entries_[i], how));
  }
  entries_.clear();
  holds_.clear();
  give_(std::move(jobs));
}

void Queue::push(const Outcome& outcome) {
  const Assessment& a = outcome.assessment;
  const Identifier& patient = a.patient.identifiers.front();
  std::string bundle;
  std::string hold;
  if (a.replaces) hold = withdrawReplaced(a);
  bundle.reserve(last_ + last_ / 4);
  writer_.append(bundle, a, outcome.findings, outcome.issues);
  last_ = bundle.size();
  outbox::Entry entry{
      run_.to.name,
      a.identifier.system,
      a.identifier.value,
      a.revision,
      patient.system + "|" + patient.value,
      a.sourceDigest,
      std::move(bundle),
      0,
      personOf(a, options_.patientReference, package::realmOf(run_.world.tables, options_.realm)),
      {}};
  if (a.status == Status::EnteredInError) {
    hold += withdraw(entry, a);
  } else if (a.revision > 1) {
    hold += retract(entry);
  }
  entry.resources = entriesOf(entry.bundle);
  entries_.push_back(std::move(entry));
  holds_.push_back(std::move(hold));
}

/// Adds to a correction what it has to withdraw. If that cannot be known, the reason to hold it.
std::string Queue::retract(outbox::Entry& entry) {
  store();  // the earlier revision may be among those that wait to be stored
  if (!run_.failures.empty()) return {};
  const Result<std::optional<outbox::Row>> earlier = run_.outbox.earlier(entry);
  if (!earlier) run_.failures = earlier.issues();
  if (!earlier || !*earlier) return {};
  const Result<std::string> before = run_.outbox.payload((*earlier)->id);
  const Result<std::string> both =
      before ? package::withRetractions(entry.bundle, *before) : before;
  if (both) {
    entry.bundle = *both;
    return {};
  }
  return "What revision " + std::to_string((*earlier)->revision) +
         " said and this one does not cannot be withdrawn: " + both.issues().front().text +
         " Compare the two in the record, then release this one.";
}

/// The bundle of a withdrawal, made of what was sent before.
std::string Queue::withdraw(outbox::Entry& entry, const Assessment& assessment) {
  store();
  if (!run_.failures.empty()) return {};
  const package::Withdrawal what{assessment.identifier,
                                 assessment.revision,
                                 assessment.note,
                                 assessment.performer,
                                 assessment.issuedAt.value_or(assessment.measuredAt),
                                 std::nullopt,
                                 options_.version};
  const Result<std::string> bundle =
      withdrawalOf(run_.outbox, entry, what, run_.world.tables, run_.failures);
  if (bundle) {
    entry.bundle = *bundle;
    return {};
  }
  return "This withdrawal cannot be made of what was sent before: " + bundle.issues().front().text +
         " As it stands it marks only what it says itself. Look in the record what is there, then "
         "release or drop it.";
}

/// Queues the withdrawal of the assessment that this one replaces. If it cannot be made, the reason
/// to hold this one.
std::string Queue::withdrawReplaced(const Assessment& assessment) {
  store();
  if (!run_.failures.empty()) return {};
  const package::Withdrawal what{*assessment.replaces,
                                 0,
                                 "Replaced by another assessment.",
                                 assessment.performer,
                                 assessment.issuedAt.value_or(assessment.measuredAt),
                                 assessment.identifier,
                                 options_.version};
  Result<std::optional<outbox::Entry>> entry =
      withdrawalEntry(run_.outbox, run_.to.name, what, run_.world.tables);
  if (!entry) {
    return "What it replaces cannot be withdrawn: " + entry.issues().front().text +
           " Withdraw it in the record, then release this one.";
  }
  if (!*entry) return {};
  (*entry)->resources = entriesOf((*entry)->bundle);
  entries_.push_back(**std::move(entry));
  holds_.emplace_back();
  return {};
}

void Queue::hold(const outbox::Added& added, const Sent& sent, const std::string& why) {
  const outbox::Mark mark{added.id, outbox::State::Held, outbox::Step::Send, 0, clockTime(), why,
                          ""};
  append(run_.failures, run_.outbox.settle({&mark, 1}, clockTime()));
  run_.receipts.know(added.id, sent);
  run_.receipts.tell({added.id, outbox::State::Held, 0, why, 0, 0});
  ++run_.heldAtOnce;
}

}  // namespace footbridge::app
