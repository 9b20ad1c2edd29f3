#pragma once
// Withdrawals, made of what the outbox knows was sent.

#include <optional>

#include "app/commands.hpp"
#include "outbox/outbox.hpp"
#include "package/withdrawal.hpp"

namespace footbridge::app {

/// The bundle that withdraws what stood before the entry's revision. NotFound if nothing did, or if
/// its payload is erased. Faults of the outbox go to `failures` as well.
Result<std::string> withdrawalOf(outbox::Outbox& outbox, const outbox::Entry& entry,
                                 const package::Withdrawal& what, const Tables& tables,
                                 Issues& failures);

/// An entry that withdraws the latest revision of `what.assessment` at the destination; its own
/// revision is the one after, whatever `what` says. Nothing if the latest is a withdrawal already.
Result<std::optional<outbox::Entry>> withdrawalEntry(outbox::Outbox& outbox,
                                                     const std::string& destination,
                                                     package::Withdrawal what,
                                                     const Tables& tables);

/// The rows of the options: withdrawn in the record, or taken for delivered as it has them. Each
/// gives the exit code.
int withdrawRows(const OutboxOptions& options, outbox::Outbox& outbox, World& world);
int acceptRows(const OutboxOptions& options, outbox::Outbox& outbox, World& world);

}  // namespace footbridge::app
