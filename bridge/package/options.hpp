#pragma once
// What a deployment chooses about bundles.

#include <cstdint>
#include <string>

namespace footbridge::package {

/// How resources point at the patient.
enum class PatientReference : std::uint8_t {
  Conditional,  ///< Patient?identifier=system|value: the record must hold that patient, once
  Logical,      ///< the identifier only, for whoever receives the bundle to resolve
  Create        ///< the bundle holds the patient, created if the record has none by the identifier
};

/// Which profiles a resource says it keeps to, in meta.profile. Many servers refuse a profile that
/// they do not hold, so none is said unless asked for.
enum class Claims : std::uint8_t {
  None,
  Ours,     ///< those of our own package
  Checked,  ///< ours, and those of the realm that were held against the published definitions
  All       ///< ours, and all of the realm
};

/// The FHIR release that is written. R4B has the same bytes as R4.
enum class Edition : std::uint8_t { R4, R5 };

struct BundleOptions {
  std::string ruleSet = "acc-aha-2024";  ///< whose ABI and TBI classes are written
  PatientReference patientReference = PatientReference::Conditional;
  std::string version;         ///< of the program, for Provenance
  std::string realm = "base";  ///< row of realms.json; base if there is none of that name
  Claims claims = Claims::None;
  Edition edition = Edition::R4;
};

}  // namespace footbridge::package
