#include "app/entries.hpp"

#include "app/deployment.hpp"
#include "package/markup.hpp"
#include "package/retract.hpp"

namespace footbridge::app {
namespace {

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

outbox::Person personOf(const Assessment& assessment, package::PatientReference reference) {
  using package::PatientReference;
  using Check = outbox::Person::Check;
  if (reference == PatientReference::Logical) return {};
  const Identifier& identifier = assessment.patient.identifiers.front();
  return {reference == PatientReference::Create ? Check::MayExist : Check::MustExist,
          identifier.system,
          identifier.value,
          package::searchValue(identifier.system) + "%7C" + package::searchValue(identifier.value),
          assessment.patient.birthDate ? text(*assessment.patient.birthDate) : "",
          assessment.patient.family};
}

}  // namespace

package::BundleOptions bundleOptions(const package::BundleOptions& base, const std::string& given,
                                     const config::Destination& to) {
  package::BundleOptions out = base;
  const std::string& patient = given.empty() ? to.patient : given;
  if (patient == "logical") out.patientReference = package::PatientReference::Logical;
  if (patient == "create") out.patientReference = package::PatientReference::Create;
  return out;
}

EntryMaker::EntryMaker(const Tables& tables, package::BundleOptions options,
                       std::string destination)
    : options_(std::move(options)),
      writer_(tables, options_),
      destination_(std::move(destination)) {}

outbox::Entry EntryMaker::make(const Outcome& outcome) {
  const Assessment& a = outcome.assessment;
  const Identifier& patient = a.patient.identifiers.front();
  std::string bundle;
  bundle.reserve(last_ + last_ / 4);
  writer_.append(bundle, a, outcome.findings, outcome.issues);
  last_ = bundle.size();
  outbox::Entry entry{destination_,
                      a.identifier.system,
                      a.identifier.value,
                      a.revision,
                      patient.system + "|" + patient.value,
                      a.sourceDigest,
                      std::move(bundle),
                      0,
                      personOf(a, options_.patientReference)};
  entry.resources = entriesOf(entry.bundle);
  return entry;
}

Result<std::string> addRetractions(outbox::Outbox& outbox, outbox::Entry& entry) {
  const Result<std::optional<outbox::Row>> earlier = outbox.earlier(entry);
  if (!earlier) return earlier.issues();
  if (!*earlier) return std::string();
  const Result<std::string> before = outbox.payload((*earlier)->id);
  const Result<std::string> both =
      before ? package::withRetractions(entry.bundle, *before) : before;
  if (both) {
    entry.bundle = *both;
    entry.resources = entriesOf(entry.bundle);
    return std::string();
  }
  return "What revision " + std::to_string((*earlier)->revision) +
         " said and this one does not cannot be withdrawn: " + both.issues().front().text +
         " Compare the two in the record, then release this one.";
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

outbox::Mark holdMark(std::int64_t id, const std::string& why) {
  return {id, outbox::State::Held, outbox::Step::Send, 0, clockTime(), why, ""};
}

}  // namespace footbridge::app
