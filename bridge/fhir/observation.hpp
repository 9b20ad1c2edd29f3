#pragma once
// The Observations of one assessment as rows of one reading each.

#include <string>
#include <vector>

#include "csv/visit.hpp"
#include "fhir/draft.hpp"
#include "fhir/gather.hpp"
#include "fhir/names.hpp"

namespace footbridge::fhir {

/// What was made of the Observations.
struct Rows {
  std::vector<csv::Row> rows;
  std::string states;                  ///< one letter of HL7 table 0085 for each reading
  std::vector<const Entry*> readings;  ///< what rows came from, without figures of earlier visits
  std::vector<const Entry*> panels;    ///< what holds readings together and is none itself
  std::string note;                    ///< of the panels: on the visit as a whole
};

/// Reads them; what is to be said goes to the draft, as does with what they were measured.
Rows rowsOf(Draft& draft, const Gathered& group, const Entries& entries, const Codes& codes);

}  // namespace footbridge::fhir
