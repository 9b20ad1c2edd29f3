#pragma once
// From an outcome to what the outbox stores of it for one destination.

#include <string>

#include "app/pipeline.hpp"
#include "config/config.hpp"
#include "deliver/lanes.hpp"
#include "outbox/outbox.hpp"
#include "package/options.hpp"

namespace footbridge::app {

/// What a destination asks of bundles. `patient` and `said` go before what is configured, as far as
/// they are not "". The shape was checked before (chooseShape).
package::BundleOptions bundleOptions(const package::BundleOptions& base, const std::string& patient,
                                     const config::Shape& said, const config::Destination& to,
                                     const Tables& tables);

/// What is stored of outcomes for one destination, and how their bundles are to be made.
class EntryMaker {
 public:
  EntryMaker(const Tables& tables, package::BundleOptions options, std::string destination);

  /// With a bundle, or what one is made of again; how many resources it has is left to be filled
  /// in.
  outbox::Entry make(const Outcome& outcome, std::string stored) const;

  const package::BundleOptions& options() const { return options_; }

 private:
  const Tables& tables_;
  package::BundleOptions options_;
  std::string destination_;
};

/// Adds to a correction what it has to withdraw of the revision before, which has to be stored
/// already; if that cannot be known, the reason to hold it. Issues if the outbox fails.
Issues addRetractions(outbox::Outbox& outbox, outbox::Entry& entry);

/// Makes of an entry whose assessment says that it was entered in error the withdrawal of what was
/// sent before, which has to be stored already; or adds the reason to hold it, as above.
Issues makeWithdrawal(outbox::Outbox& outbox, outbox::Entry& entry, const Assessment& assessment,
                      const std::string& version, const Tables& tables);

/// The withdrawal of what `assessment.replaces` names, which goes before the entry; nothing if it
/// is withdrawn already. If it cannot be made, the entry is given the reason to hold it.
std::optional<outbox::Entry> withdrawalOfReplaced(outbox::Outbox& outbox, outbox::Entry& entry,
                                                  const Assessment& assessment,
                                                  const std::string& version, const Tables& tables);

/// Whether the text gives the same bundle again by itself, so that it may be stored in its place: a
/// correction does not, since what it withdraws belongs to its bundle, nor does a row of a table.
bool standsAlone(const intake::Text& text, const Assessment& assessment);

/// The job of a row that was just stored. Takes what is stored out of the entry.
deliver::Job jobFor(outbox::Entry& entry, const outbox::Added& how);

}  // namespace footbridge::app
