#pragma once
// Whether the record's patient is ours. Pure: no clock, no network.

#include "deliver/judge.hpp"
#include "json/value.hpp"
#include "outbox/outbox.hpp"

namespace footbridge::deliver {

/// Why readings no longer belong with this Patient: "active false", "link replaced-by" (it was
/// merged into another); "" if it is in use.
std::string_view outOfUse(const json::Value& patient);

/// "/Patient?identifier=...".
std::string identityQuery(const outbox::Person& person);

/// Judges the answer to that search. Done: the record holds exactly one active patient of this
/// identifier whose birth date and family name agree, as far as both sides give them and at least
/// one of the two; or none, where it may be created. Everything else is held, never guessed.
Verdict judgeIdentity(const Answer& answer, const outbox::Person& person);

/// "Patient/12": the only active patient of this identifier in that answer; "" if there is none.
std::string patientPlace(const Answer& answer, const outbox::Person& person);

/// The bundle with references to the patient of this identifier by condition made literal.
std::string withPatient(std::string bundle, const outbox::Person& person, std::string_view place);

}  // namespace footbridge::deliver
