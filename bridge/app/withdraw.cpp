#include "app/withdraw.hpp"

#include <limits>
#include <ostream>

#include "app/commands.hpp"
#include "app/deployment.hpp"
#include "app/report.hpp"
#include "core/digest.hpp"

namespace footbridge::app {
namespace {

using outbox::Row;

Issue unknown(const Identifier& assessment) {
  return {Severity::Error,
          IssueType::NotFound,
          "withdrawal",
          "",
          "The outbox knows of no assessment " + assessment.value + " sent to this destination.",
          "Check its identifier, or withdraw it in the record."};
}

Issue overtaken(std::int64_t row) {
  return {Severity::Error,
          IssueType::BusinessRule,
          "withdrawal",
          "",
          "Another revision of the assessment of row " + std::to_string(row) + " came meanwhile.",
          "Look at it, and withdraw it again."};
}

Result<Row> latest(outbox::Outbox& outbox, const outbox::Entry& entry) {
  const Result<std::optional<Row>> row = outbox.earlier(entry);
  if (!row) return row.issues();
  if (!*row) return unknown({entry.system, entry.value});
  return **row;
}

outbox::Entry entryFor(const Row& row, const package::Withdrawal& what, std::string bundle) {
  outbox::Entry out;
  out.destination = row.destination;
  out.system = row.system;
  out.value = row.value;
  out.revision = what.revision;
  out.sourceDigest = sha256(what.because + "\n" + what.by.name);
  out.bundle = std::move(bundle);
  out.person = row.person;
  out.lane = row.lane;
  return out;
}

std::int32_t countOf(std::string_view bundle) {
  std::int32_t out = 0;
  for (std::size_t at = bundle.find("\"fullUrl\":"); at != std::string_view::npos;
       at = bundle.find("\"fullUrl\":", at + 1)) {
    ++out;
  }
  return out;
}

Issues withdrawRow(outbox::Outbox& outbox, std::int64_t id, const OutboxOptions& options,
                   World& world) {
  const Result<Row> row = outbox.find(id);
  if (!row) return row.issues();
  const package::Withdrawal what{{row->system, row->value},
                                 0,
                                 options.because,
                                 {std::nullopt, options.by},
                                 world.now,
                                 std::nullopt,
                                 options.version};
  Result<std::optional<outbox::Entry>> entry =
      withdrawalEntry(outbox, row->destination, what, world.tables);
  if (!entry) return entry.issues();
  if (!*entry) {
    world.out << "row " << id << ": its assessment is withdrawn already\n";
    return {};
  }
  (*entry)->resources = countOf((*entry)->bundle);
  const auto added = outbox.add({&**entry, 1}, clockTime());
  if (!added) return added.issues();
  if (added->front().how == outbox::Added::How::Differs) return {overtaken(id)};
  world.out << "row " << added->front().id << ": withdraws row " << id << " as revision "
            << (*entry)->revision << ", sent by the next `footbridge send --to " << row->destination
            << " --queued`\n";
  return {};
}

}  // namespace

Result<std::string> withdrawalOf(outbox::Outbox& outbox, const outbox::Entry& entry,
                                 const package::Withdrawal& what, const Tables& tables,
                                 Issues& failures) {
  const Result<Row> before = latest(outbox, entry);
  if (!before) {
    if (before.issues().front().type == IssueType::NoStore) failures = before.issues();
    return before.issues();
  }
  const Result<std::string> bundle = outbox.payload(before->id);
  if (!bundle) return bundle.issues();
  return package::withdrawalBundle(what, *bundle, tables);
}

Result<std::optional<outbox::Entry>> withdrawalEntry(outbox::Outbox& outbox,
                                                     const std::string& destination,
                                                     package::Withdrawal what,
                                                     const Tables& tables) {
  outbox::Entry asked;
  asked.destination = destination;
  asked.system = what.assessment.system;
  asked.value = what.assessment.value;
  asked.revision = std::numeric_limits<std::int32_t>::max();
  const Result<Row> before = latest(outbox, asked);
  if (!before) return before.issues();
  const Result<std::string> bundle = outbox.payload(before->id);
  if (!bundle) return bundle.issues();
  if (package::isWithdrawal(*bundle)) return std::optional<outbox::Entry>{};
  const Result<std::int32_t> last = outbox.lastRevision(before->visit);
  if (!last) return last.issues();
  what.revision = *last + 1;
  Result<std::string> made = package::withdrawalBundle(what, *bundle, tables);
  if (!made) return made.issues();
  return std::optional<outbox::Entry>(entryFor(*before, what, *std::move(made)));
}

int withdrawRows(const OutboxOptions& options, outbox::Outbox& outbox, World& world) {
  int code = kWell;
  for (const std::int64_t id : options.ids) {
    const Issues issues = withdrawRow(outbox, id, options, world);
    if (!issues.empty()) code = refuse(issues, world, kSetAside);
  }
  return code;
}

int acceptRows(const OutboxOptions& options, outbox::Outbox& outbox, World& world) {
  int code = kWell;
  for (const std::int64_t id : options.ids) {
    const Issues issues = outbox.accept(id, options.because, clockTime());
    if (issues.empty()) {
      world.out << "row " << id << ": delivered, as the record has it\n";
    } else {
      code = refuse(issues, world, kSetAside);
    }
  }
  return code;
}

}  // namespace footbridge::app
