#include "package/summary.hpp"

#include <algorithm>
#include <array>

#include "package/summary_leg.hpp"
#include "package/wording.hpp"

namespace footbridge::package {
namespace {

constexpr std::string_view kNothing = "nothing was recorded, which says nothing about the leg";

std::string legTitle(Side side) { return side == Side::Right ? "Right leg" : "Left leg"; }

SummaryPart shortPart(const std::array<LegFindings, 2>& legs) {
  SummaryPart out{std::string(kInShort), {}};
  for (const LegFindings& leg : legs) {
    const bool any = examined(leg.assessment, leg.side);
    out.lines.push_back(legTitle(leg.side) + ": " + (any ? inShort(leg) : std::string(kNothing)) +
                        ".");
  }
  return out;
}

SummaryPart legPart(const LegFindings& leg) {
  SummaryPart out{legTitle(leg.side), {}};
  if (examined(leg.assessment, leg.side)) out.lines = linesOf(leg);
  return out;
}

SummaryPart flagPart(const Findings& findings) {
  SummaryPart out{std::string(kFlags), {}};
  for (const Flag& flag : findings.flags) out.lines.push_back(spoken(flag));
  return out;
}

/// "Hand-held Doppler: Maker Model, serial number 12".
std::string told(const Instrument& instrument, const Tables& tables) {
  const Concept* kind = tables.concept_("instrument-" + std::string(instrument.kind));
  std::string out = kind != nullptr ? kind->label : std::string(instrument.kind);
  std::string_view before = ": ";
  for (const std::string* part : {&instrument.manufacturer, &instrument.model}) {
    if (part->empty()) continue;
    (out += before) += *part;
    before = " ";
  }
  if (!instrument.serial.empty()) out += ", serial number " + instrument.serial;
  return out;
}

/// In an order of their own: by some wires they come in that of the readings.
std::string instrumentsOf(const Assessment& a, const Tables& tables) {
  std::vector<std::string> all;
  for (const Instrument& instrument : a.instruments) all.push_back(told(instrument, tables));
  std::sort(all.begin(), all.end());
  std::string out;
  for (const std::string& each : all) addTo(out, each);
  return out;
}

/// What the indices were divided by, and what else bears on how far they can be trusted.
SummaryPart visitPart(const Assessment& a, const Tables& tables) {
  SummaryPart out{"Arms, conditions and history", {}};
  const auto add = [&out](std::string_view title, const std::string& list) {
    if (!list.empty()) out.lines.push_back(std::string(title) + ": " + list + ".");
  };
  std::string arms;
  for (const Side side : kSides) {
    const std::string arm =
        toldOf(a, tables, side, Item::ArmSystolic, Item::ArmSystolicAfterExercise);
    if (!arm.empty()) addTo(arms, arm);
  }
  add("Arms", arms.empty() ? "no pressure was recorded" : arms);
  add("Conditions", toldOf(a, tables, Side::None, Item::Posture, Item::PressureMethod));
  add("Room", a.room);
  add("Exercise",
      toldOf(a, tables, Side::None, Item::ExerciseProtocol, Item::ExerciseMinutesAfter));
  add("Systemic signs", toldOf(a, tables, Side::None, Item::Temperature, Item::BandForms));
  add("History", toldOf(a, tables, Side::None, Item::HistoryDiabetes, Item::HistorySmoking));
  add("Instruments", instrumentsOf(a, tables));
  return out;
}

/// What concerns the readings. What concerns the sending is for who sends.
SummaryPart queryPart(const Issues& issues) {
  static constexpr std::array<std::string_view, 4> kOfTheSending{"fhir-", "hl7-", "csv-",
                                                                 "revision-"};
  SummaryPart out{"Queries on the readings", {}};
  for (const Issue& issue : issues) {
    const bool sending =
        std::any_of(kOfTheSending.begin(), kOfTheSending.end(),
                    [&issue](std::string_view prefix) { return issue.rule.starts_with(prefix); });
    if (issue.severity == Severity::Warning && !sending) out.lines.push_back(issue.text);
  }
  return out;
}

/// The clinician's own words, a line each.
SummaryPart notePart(std::string_view note) {
  SummaryPart out{"Note of the clinician", {}};
  while (!note.empty()) {
    const std::size_t end = std::min(note.find_first_of("\r\n"), note.size());
    if (end > 0) out.lines.emplace_back(note.substr(0, end));
    note.remove_prefix(std::min(end + 1, note.size()));
  }
  return out;
}

}  // namespace

std::string headline(const Assessment& assessment) {
  const bool withdrawn = assessment.status == Status::EnteredInError;
  std::string out = "Status: ";
  out += word(assessment.status);
  out += withdrawn ? ", withdrawn. " : ". ";
  out += "Lower-limb arterial assessment of " + spoken(assessment.measuredAt);
  if (assessment.revision > 1) out += ", revision " + std::to_string(assessment.revision);
  out += withdrawn ? "; what was reported of it no longer stands. Withdrawn by " : ". Measured by ";
  const std::string by = nameOf(assessment.performer);
  out += by.empty() ? "the performer named in the record" : by;
  if (!assessment.performerRole.empty()) out += " (" + assessment.performerRole + ")";
  return out + ".";
}

std::vector<SummaryPart> summarise(const Assessment& assessment, const Findings& findings,
                                   const Issues& issues, const Tables& tables,
                                   std::string_view ruleSet) {
  const std::array<LegFindings, 2> legs{
      LegFindings{assessment, findings, tables, ruleSet, Side::Right},
      LegFindings{assessment, findings, tables, ruleSet, Side::Left}};
  std::vector<SummaryPart> out;
  if (assessment.status != Status::EnteredInError) {
    out.push_back(shortPart(legs));
    out.push_back(flagPart(findings));
    for (const LegFindings& leg : legs) out.push_back(legPart(leg));
    out.push_back(visitPart(assessment, tables));
    out.push_back(queryPart(issues));
  }
  out.push_back(notePart(assessment.note));
  out.push_back({"Cautions", cautions()});
  std::erase_if(out, [](const SummaryPart& part) { return part.lines.empty(); });
  return out;
}

const std::vector<std::string>& cautions() {
  static const std::vector<std::string> kCautions{
      "Decision support only: local policy and the judgement of a licensed practitioner come "
      "first.",
      "A normal or raised ankle index does not exclude disease where arteries may be stiff, as in "
      "diabetes and kidney disease.",
      "A reading that is missing here was not taken as normal.",
      "Grades say that a published threshold is met, with its source; they do not say what to do."};
  return kCautions;
}

}  // namespace footbridge::package
