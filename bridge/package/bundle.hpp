#pragma once
// Assessment and findings to one FHIR R4 transaction bundle, as bytes.

#include <string>

#include "core/digest.hpp"
#include "core/issue.hpp"
#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "package/prepared.hpp"
#include "package/sheet.hpp"
#include "tables/tables.hpp"

namespace footbridge::package {

/// Writes bundles. The same assessment, findings and tables give the same bytes: ids are name-based
/// UUIDs and no clock is read. Every entry is a conditional create, so sending a bundle twice makes
/// nothing twice. Not for use by several threads at once: one each.
class BundleWriter {
 public:
  BundleWriter(const Tables& tables, BundleOptions options);

  /// Appends the bundle, without a line break. `issues` are those that travel with the readings
  /// (warnings appear in the report). The assessment must have passed validation: it has a patient
  /// identifier and nothing that blocks. Gives the number of entries.
  std::size_t append(std::string& out, const Assessment& assessment, const Findings& findings,
                     const Issues& issues);

 private:
  const Tables& tables_;
  BundleOptions options_;
  Prepared prepared_;
  UuidMaker uuids_;
  std::size_t room_ = 0;  ///< for the next bundle
};

/// Our own CodeSystem as a FHIR resource: every concept that has a code of ours, every flag and
/// every definition that is coded in a bundle.
std::string codeSystem(const Tables& tables, std::string_view version);

}  // namespace footbridge::package
