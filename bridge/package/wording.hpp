#pragma once
// What a reading, an index or a grade is in words: the same words in narrative, report and
// explanation.

#include <string>

#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge::package {

/// "Dorsalis pedis pressure at the ankle, left".
std::string named(std::string_view label, Side side);

/// The name of a party, else the identifier by which it was named, else "".
std::string nameOf(const Party& party);

/// Given names, then the family name, or these words where there is none.
std::string nameOf(const Patient& patient, std::string_view noFamily = {});

/// The name of a rule set, its id if it is not known.
std::string_view nameOfRuleSet(const Tables& tables, std::string_view id);

/// "98 mmHg", "above 300 mmHg, artery incompressible", "no Doppler signal", "not performed".
std::string spoken(const Reading& reading, const Tables& tables);

/// What is left to say of `said` beside `label`, which ends as it begins: "normal" of "Pulse
/// normal" beside "Femoral pulse", "IIa" of "Fontaine stage IIa" beside "Stated Fontaine stage".
std::string beside(std::string_view label, std::string_view said);

/// The reading with its name and what was noted on it, as an entry of a list: "Toe pressure
/// 46 mmHg", "Femoral pulse: normal", "Toe pressure: no reading, declined (the toe is sore)". Arms
/// are named with their side, since they stand in one list.
std::string told(const Reading& reading, const Tables& tables);

/// "0.79", "12 mmHg", or "no value" and the reason.
std::string spoken(const Index& index, const Tables& tables);

/// The label of the class, for a grade that has one: "Ankle-brachial index abnormal".
std::string_view outcomeLabel(const Grade& grade, const Tables& tables);

/// "Abnormal", or "cannot be graded" and the reason.
std::string spoken(const Grade& grade, const Tables& tables);

/// The id of the concept under which the index of that side leaves.
const std::string& conceptOf(const IndexRow& row, Side side);

/// The flag's sentence with the leg it is about before it: "Right leg: ...".
std::string spoken(const Flag& flag);

/// The class alone: "abnormal", "3", "very low", "met"; "not graded" if there is none.
std::string shortOutcome(const Grade& grade);

/// The class of an index that is there, or that the rule set states none for it.
std::string bandOfIndex(const Grade* band);

/// The name of a scheme's concept: "Class of the ankle-brachial index".
std::string_view schemeLabel(const Grade& grade, const Tables& tables);

/// WIfI's grades of wound, ischaemia and foot infection: "0-1-?", a question mark where one is
/// missing.
std::string threat(const Findings& findings, Side side);

/// How many of the pressure criteria for limb-threatening ischaemia a leg's figures reach, and how
/// many cannot be settled.
struct CriteriaCount {
  std::size_t reached = 0;
  std::size_t open = 0;
  std::size_t all = 0;
};
CriteriaCount cltiCriteria(const Findings& findings, Side side);

/// True if anything at all was recorded of the leg itself.
bool examined(const Assessment& assessment, Side side);

/// True if a symptom, a wound or gangrene is recorded as present: a stage that cannot be given is
/// then worth saying.
bool complains(const Assessment& assessment, Side side);

/// Which of the readings says the toe, as the id of its body site; the side's unnamed toe if none
/// does.
std::string toeSite(const Assessment& assessment, Side side);

/// The concept id of the method of the toe reading, "" if the sensor is not given.
std::string_view toeMethod(const Assessment& assessment, Side side);

}  // namespace footbridge::package
