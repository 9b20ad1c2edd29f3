#include "app/entries.hpp"

#include "app/shape.hpp"
#include "app/withdraw.hpp"
#include "deliver/bundle_marks.hpp"
#include "package/markup.hpp"
#include "package/retract.hpp"

namespace footbridge::app {
namespace {

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

void hold(outbox::Entry& entry, const std::string& why) {
  if (!entry.hold.empty()) entry.hold += ' ';
  entry.hold += why;
}

}  // namespace

package::BundleOptions bundleOptions(const package::BundleOptions& base, const std::string& given,
                                     const config::Shape& said, const config::Destination& to,
                                     const Tables& tables) {
  package::BundleOptions out = base;
  chooseShape(said, to.shape, tables, out);
  const std::string& patient = given.empty() ? to.patient : given;
  if (patient == "logical") out.patientReference = package::PatientReference::Logical;
  if (patient == "create") out.patientReference = package::PatientReference::Create;
  return out;
}

EntryMaker::EntryMaker(const Tables& tables, package::BundleOptions options,
                       std::string destination)
    : tables_(tables), options_(std::move(options)), destination_(std::move(destination)) {}

outbox::Entry EntryMaker::make(const Outcome& outcome, std::string stored) const {
  const Assessment& a = outcome.assessment;
  const Identifier& patient = a.patient.identifiers.front();
  return {destination_,
          a.identifier.system,
          a.identifier.value,
          a.revision,
          patient.system + "|" + patient.value,
          a.sourceDigest,
          std::move(stored),
          0,
          personOf(a, options_.patientReference, package::realmOf(tables_, options_.realm)),
          {},
          {}};
}

Issues addRetractions(outbox::Outbox& outbox, outbox::Entry& entry) {
  const Result<std::optional<outbox::Row>> earlier = outbox.earlier(entry);
  if (!earlier) return earlier.issues();
  if (!*earlier) return {};
  const Result<std::string> before = outbox.payload((*earlier)->id);
  const bool same = before && before.issues().empty();
  const Result<std::string> both =
      same ? package::withRetractions(entry.bundle, *before) : Result<std::string>(before.issues());
  if (both) {
    entry.bundle = *both;
    entry.resources = deliver::entriesOf(entry.bundle);
    return {};
  }
  hold(entry, "What revision " + std::to_string((*earlier)->revision) +
                  " said and this one does not cannot be withdrawn: " + both.issues().front().text +
                  " Compare the two in the record, then release this one.");
  return {};
}

Issues makeWithdrawal(outbox::Outbox& outbox, outbox::Entry& entry, const Assessment& assessment,
                      const std::string& version, const Tables& tables) {
  const package::Withdrawal what{assessment.identifier,
                                 assessment.revision,
                                 assessment.note,
                                 assessment.performer,
                                 assessment.issuedAt.value_or(assessment.measuredAt),
                                 std::nullopt,
                                 version};
  Issues failures;
  const Result<std::string> bundle = withdrawalOf(outbox, entry, what, tables, failures);
  if (!failures.empty()) return failures;
  if (bundle) {
    entry.bundle = *bundle;
    entry.resources = deliver::entriesOf(entry.bundle);
    return {};
  }
  hold(entry,
       "This withdrawal cannot be made of what was sent before: " + bundle.issues().front().text +
           " As it stands it marks only what it says itself. Look in the record what is there, "
           "then release or drop it.");
  return {};
}

std::optional<outbox::Entry> withdrawalOfReplaced(outbox::Outbox& outbox, outbox::Entry& entry,
                                                  const Assessment& assessment,
                                                  const std::string& version,
                                                  const Tables& tables) {
  const package::Withdrawal what{*assessment.replaces,
                                 0,
                                 "Replaced by another assessment.",
                                 assessment.performer,
                                 assessment.issuedAt.value_or(assessment.measuredAt),
                                 assessment.identifier,
                                 version};
  Result<std::optional<outbox::Entry>> out =
      withdrawalEntry(outbox, entry.destination, what, tables);
  if (!out) {
    hold(entry, "What it replaces cannot be withdrawn: " + out.issues().front().text +
                    " Withdraw it in the record, then release this one.");
    return std::nullopt;
  }
  if (*out) (*out)->resources = deliver::entriesOf((*out)->bundle);
  return *std::move(out);
}

bool standsAlone(const intake::Text& text, const Assessment& assessment) {
  return !text.original && assessment.revision == 1 && !assessment.replaces &&
         assessment.status != Status::EnteredInError;
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

}  // namespace footbridge::app
