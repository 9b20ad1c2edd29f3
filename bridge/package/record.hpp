#pragma once
// The resources of a bundle that are not Observations: patient, instruments, report, provenance.

#include <string>

#include "package/sheet.hpp"

namespace footbridge::package {

/// Each appends its entry with a comma after it. The patient is appended only where the options say
/// that the bundle holds the patient, an instrument only if its serial number identifies it.
void appendPatient(std::string& out, const Sheet& sheet);
/// Gives their number.
std::size_t appendInstruments(std::string& out, const Sheet& sheet);
void appendReport(std::string& out, const Sheet& sheet);

/// The last entry: no comma after it. Gives the number of entries that it is about: all but patient
/// and instruments.
std::size_t appendProvenance(std::string& out, const Sheet& sheet);

}  // namespace footbridge::package
