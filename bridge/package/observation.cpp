#include "package/observation.hpp"

#include <algorithm>
#include <utility>

#include "json/writer.hpp"
#include "package/observation_writer.hpp"
#include "package/wording.hpp"

namespace footbridge::package {
namespace {

/// Who is referred to. Points into the sheet.
using References = std::vector<const Uuid*>;

void addWritten(References& out, const Member& member) {
  const bool there = std::find(out.begin(), out.end(), &member.uuid) != out.end();
  if (member.written && !there) out.push_back(&member.uuid);
}

References targets(const Sheet& sheet, const std::vector<ReadingRef>& readings,
                   const std::vector<IndexRef>& indices) {
  References out;
  out.reserve(readings.size() + indices.size());
  for (const ReadingRef& ref : readings) {
    const Reading* reading = sheet.assessment.find(ref.item, ref.side);
    if (reading == nullptr) continue;
    addWritten(
        out, sheet.readings[static_cast<std::size_t>(reading - sheet.assessment.readings.data())]);
  }
  for (const IndexRef& ref : indices) {
    const Index* index = sheet.findings.find(ref.kind, ref.side);
    if (index == nullptr) continue;
    addWritten(out, sheet.indices[static_cast<std::size_t>(index - sheet.findings.indices.data())]);
  }
  return out;
}

/// The value of a reading, by what it holds.
struct ValueWriter {
  ObservationWriter& to;
  const Reading& reading;
  const ItemRow& row;
  const Sheet& sheet;

  void operator()(const Pressure& value) const {
    to.quantity(value.text(), symbol(reading.comparator), row.unitLabel, row.unit);
  }
  void operator()(const Decimal& value) const {
    to.quantity(value.text(), symbol(reading.comparator), row.unitLabel, row.unit);
  }
  void operator()(const Word& value) const {
    to.codeable(sheet.prepared.wordConcept(row, value.text));
  }
  void operator()(const GradedPulse& value) const {
    if (!value.word.empty()) {
      to.codeable(sheet.prepared.wordConcept(row, value.word));
      return to.note("Written as ", spoken(reading, sheet.tables), ".");
    }
    std::string text = "{\"text\":";
    json::appendQuoted(text, spoken(reading, sheet.tables));
    to.codeable(text + "}");
  }
  // A finding, not an absence: the limit leaves with its comparator, which a reader must not drop.
  void operator()(const Incompressible& value) const {
    if (!value.limit) return to.codeable(sheet.prepared.codeable("incompressible"));
    to.quantity(value.limit->text(), ">", "mmHg", "mm[Hg]");
    to.raw(
        ",\"interpretation\":[{\"coding\":[{\"system\":\"http://terminology.hl7.org/CodeSystem/"
        "v3-ObservationInterpretation\",\"code\":\">\",\"display\":\"Off scale high\"},"
        "{\"system\":\"");
    to.raw(sheet.prepared.system());
    to.raw(
        "\",\"code\":\"incompressible\",\"display\":\"Artery incompressible\"}],\"text\":"
        "\"Artery incompressible\"}]");
  }
  void operator()(const NoSignal&) const { to.codeable(sheet.prepared.codeable("no-signal")); }
  void operator()(const Absence& value) const { to.absent(value.reason, reading.note); }
};

void appendPlace(ObservationWriter& to, const Reading& reading, const Sheet& sheet) {
  const Pieces& pieces = sheet.prepared.item(reading.item, reading.side);
  if (reading.item != Item::ToePressure) {
    to.raw(pieces.bodySite);
    return to.raw(pieces.method);
  }
  to.raw(",\"bodySite\":");
  to.raw(sheet.prepared.codeable(toeSite(sheet.assessment, reading.side)));
  const std::string_view method = toeMethod(sheet.assessment, reading.side);
  if (method.empty()) return;
  to.raw(",\"method\":");
  to.raw(sheet.prepared.codeable(method));
}

void appendDevice(ObservationWriter& to, const ItemRow& row, const Sheet& sheet) {
  if (row.instrument.empty() || !allows(sheet.prepared.realm(), "Observation.device")) return;
  const std::vector<Instrument>& all = sheet.assessment.instruments;
  const auto found = std::find_if(all.begin(), all.end(), [&row](const Instrument& instrument) {
    return instrument.kind == row.instrument;
  });
  if (found == all.end()) return;
  std::string reference;
  if (!found->serial.empty()) {
    appendReference(reference, sheet.instruments[static_cast<std::size_t>(found - all.begin())]);
  } else {
    std::string name = found->manufacturer;
    if (!found->model.empty()) (name += name.empty() ? "" : " ") += found->model;
    appendParty(reference, "Device",
                {std::nullopt, name.empty() ? std::string(found->kind) : name});
  }
  to.raw(",\"device\":");
  to.raw(reference);
}

void appendReading(std::string& out, const Sheet& sheet, std::size_t at) {
  const Reading& reading = sheet.assessment.readings[at];
  const ItemRow& row = sheet.tables.row(reading.item);
  const Pieces& pieces = sheet.prepared.item(reading.item, reading.side);
  ObservationWriter to(out, sheet, sheet.readings[at].uuid, pieces.meta);
  to.raw(pieces.name);
  to.say(spoken(reading, sheet.tables));
  if (!reading.note.empty()) to.say(" (").say(reading.note).say(")");
  const bool before = isPrevious(reading.item) && sheet.assessment.previousOn;
  if (before) to.say(", measured on ").say(footbridge::spoken(*sheet.assessment.previousOn));
  before ? to.whatBefore(pieces.code) : to.what(pieces.code);
  std::visit(ValueWriter{to, reading, row, sheet}, reading.content);
  appendPlace(to, reading, sheet);
  appendDevice(to, row, sheet);
  if (!reading.note.empty()) to.note(reading.note);
  if (!reading.original.empty()) to.note("Sent as ", reading.original, ".");
}

void appendIndex(std::string& out, const Sheet& sheet, std::size_t at) {
  const Index& index = sheet.findings.indices[at];
  const IndexRow& row = sheet.tables.row(index.kind);
  const Pieces& pieces = sheet.prepared.index(index.kind, index.side);
  ObservationWriter to(out, sheet, sheet.indices[at].uuid, pieces.meta);
  to.raw(pieces.name);
  to.say(spoken(index, sheet.tables));
  to.what(pieces.code);
  if (index.hundredths) {
    to.quantity(hundredthsText(*index.hundredths), "", "1", row.unit);
  } else if (index.difference) {
    to.quantity(index.difference->text(), "", "mmHg", row.unit);
  } else if (index.tenths) {
    to.quantity(tenthsText(*index.tenths), "", "%", row.unit);
  } else {
    to.absent(index.reason, index.because);
  }
  if (index.kind == IndexKind::Tbi) {
    to.raw(",\"bodySite\":");
    to.raw(sheet.prepared.codeable(toeSite(sheet.assessment, index.side)));
  } else {
    to.raw(pieces.bodySite);
  }
  if (!index.method.empty()) to.method(index.method);
  to.references("derivedFrom", targets(sheet, index.inputs, {}));
  for (const Remark& remark : index.remarks) to.note(remark.text);
}

void appendGrade(std::string& out, const Sheet& sheet, std::size_t at) {
  const Grade& grade = sheet.findings.grades[at];
  ObservationWriter to(out, sheet, sheet.grades[at].uuid, sheet.prepared.meta(grade.scheme));
  to.sayNamed(schemeLabel(grade, sheet.tables), grade.side);
  if (grade.item) to.say(", ").say(sheet.tables.row(*grade.item).label);
  to.say(": ").say(grade);
  to.what(sheet.prepared.exam(grade.scheme));
  if (grade.present()) {
    to.codeable(sheet.prepared.codeable(grade.outcome));
  } else {
    to.absent(grade.reason, grade.because);
  }
  to.raw(grade.item ? std::string_view{sheet.prepared.item(*grade.item, grade.side).bodySite}
                    : sheet.prepared.leg(grade.side));
  grade.rule.empty() ? to.method("Rule set ", grade.ruleSet)
                     : to.method("Rule set ", grade.ruleSet, ", row ", grade.rule);
  to.references("derivedFrom", targets(sheet, grade.inputs, grade.indices));
  if (!grade.source.empty()) to.note("Source: ", grade.source, " (", grade.certainty, ").");
  for (const Remark& remark : grade.remarks) to.note(remark.text);
}

/// An answer with what its criterion always says.
struct Answer {
  const Grade& grade;
  const CriterionPieces& pieces;
};

void appendAnswer(std::string& out, const Sheet& sheet, const Answer& answer) {
  const Grade& grade = answer.grade;
  out += answer.pieces.component;
  if (grade.present()) {
    (out += ",\"valueCodeableConcept\":") += sheet.prepared.codeable(grade.outcome);
  } else {
    ((out += ",\"dataAbsentReason\":") += sheet.prepared.absence(grade.reason)) += ",\"text\":";
    json::appendQuoted(out, grade.because);
    out += '}';
  }
  out += '}';
}

/// The answers of one scheme and leg that are written.
std::vector<Answer> answersOf(const Sheet& sheet, std::string_view scheme, Side side,
                              const Uuid*& uuid) {
  std::vector<Answer> out;
  for (std::size_t i = 0; i < sheet.findings.grades.size(); ++i) {
    const Grade& grade = sheet.findings.grades[i];
    if (grade.side != side || !sheet.grades[i].written || !sameText(grade.scheme, scheme)) continue;
    uuid = &sheet.grades[i].uuid;
    out.push_back({grade, sheet.prepared.criterion(grade.ruleSet)});
  }
  return out;
}

void sayAnswers(ObservationWriter& to, const std::vector<Answer>& answers) {
  std::string_view between = ". ";
  for (const auto& [grade, pieces] : answers) {
    to.say(between).raw(pieces.said);
    grade.present() ? to.say(grade) : to.say("nothing it asks for was read");
    between = "; ";
  }
}

/// The criteria of a leg ask for the same few measures.
References targetsOf(const Sheet& sheet, const std::vector<Answer>& answers) {
  std::vector<ReadingRef> readings;
  std::vector<IndexRef> indices;
  for (const auto& [grade, pieces] : answers) {
    unite(readings, grade.inputs);
    unite(indices, grade.indices);
  }
  return targets(sheet, readings, indices);
}

/// All published criteria of one scheme and leg side by side, as the components of one Observation.
void appendCriteria(std::string& out, const Sheet& sheet, std::string_view scheme, Side side) {
  const Uuid* uuid = nullptr;
  const std::vector<Answer> answers = answersOf(sheet, scheme, side, uuid);
  if (answers.empty()) return;
  ObservationWriter to(out, sheet, *uuid, sheet.prepared.meta(scheme));
  sayAnswers(to.sayNamed(sheet.tables.concept_(scheme)->label, side), answers);
  to.what(sheet.prepared.exam(scheme));
  to.raw(sheet.prepared.leg(side));
  to.references("derivedFrom", targetsOf(sheet, answers));
  char between = '[';
  out += ",\"component\":";
  for (const Answer& answer : answers) {
    out += std::exchange(between, ',');
    appendAnswer(out, sheet, answer);
  }
  out += ']';
  for (const auto& [grade, pieces] : answers) {
    for (const Remark& remark : grade.remarks) to.noteOf(pieces.noted, remark.text);
  }
}

/// In the order in which they first come.
std::vector<std::string_view> schemesOfCriteria(const Findings& findings) {
  std::vector<std::string_view> out;
  for (const Grade& grade : findings.grades) {
    const bool again = std::find(out.begin(), out.end(), grade.scheme) != out.end();
    if (isCriterion(grade) && !again) out.push_back(grade.scheme);
  }
  return out;
}

void appendFlag(std::string& out, const Sheet& sheet, std::size_t at) {
  const Flag& flag = sheet.findings.flags[at];
  ObservationWriter to(out, sheet, sheet.flags[at].uuid, sheet.prepared.meta("reliability-flag"));
  to.sayNamed(sheet.tables.concept_("reliability-flag")->label, flag.side);
  to.say(": ").say(flag.text);
  to.what(sheet.prepared.exam("reliability-flag"));
  std::string value = "{\"coding\":[{\"system\":\"" + sheet.prepared.system() + "\",\"code\":\"" +
                      std::string(flag.rule) + "\"}],\"text\":";
  json::appendQuoted(value, flag.text);
  to.codeable(value + "}");
  to.raw(sheet.prepared.leg(flag.side));
  to.references("derivedFrom", targets(sheet, flag.inputs, flag.indices));
  const Source& source = sheet.tables.rule(flag.rule).source;
  to.note("Source: ", source.text, " (", source.certainty, ").");
}

References membersOf(const Sheet& sheet, Side side) {
  References out;
  // The criteria of a leg stand beside each other and share one Observation.
  const auto take = [&](const std::vector<Member>& members) {
    for (const Member& member : members) {
      if (member.side != side || !member.written) continue;
      if (out.empty() || *out.back() != member.uuid) out.push_back(&member.uuid);
    }
  };
  for (std::size_t i = 0; i < sheet.readings.size(); ++i) {
    const bool arm = sheet.assessment.readings[i].item <= Item::ArmSystolicAfterExercise;
    const Member& member = sheet.readings[i];
    if (!arm && member.side == side && member.written) out.push_back(&member.uuid);
  }
  take(sheet.indices);
  take(sheet.grades);
  take(sheet.flags);
  return out;
}

void appendPanel(std::string& out, const Sheet& sheet, Side side) {
  const References members = membersOf(sheet, side);
  if (members.empty()) return;
  ObservationWriter to(out, sheet, sheet.panels[static_cast<std::size_t>(side)],
                       sheet.prepared.meta("leg-panel"));
  to.sayNamed(sheet.tables.concept_("leg-panel")->label, side);
  to.say(": ").say(std::to_string(members.size())).say(" results");
  to.what(sheet.prepared.exam("leg-panel"));
  to.raw(sheet.prepared.leg(side));
  to.references("hasMember", members);
}

/// An arm's pressure once more, as the blood pressure that a reader of the realm looks for. No
/// derivedFrom: in a vital sign it may only point at vital signs.
void appendArmPanel(std::string& out, const Sheet& sheet, Side side) {
  const auto pressure = [&](Item item) {
    return std::get<Pressure>(sheet.assessment.find(item, side)->content).text();
  };
  const std::string systolic = pressure(Item::ArmSystolic);
  const std::string diastolic = pressure(Item::ArmDiastolic);
  const bool unnamed = sheet.options.patientReference == PatientReference::Create &&
                       !isNamed(sheet.assessment.patient);
  ObservationWriter to(
      out, sheet, sheet.armPanels[static_cast<std::size_t>(side)].uuid,
      sheet.prepared.meta(choose(unnamed, "arm-pressure-panel-unnamed", "arm-pressure-panel")));
  to.sayNamed(sheet.tables.concept_("arm-pressure-panel")->label, side);
  to.say(": ").say(systolic).say("/").say(diastolic).say(" mmHg");
  to.what(sheet.prepared.vitalSign("arm-pressure-panel"));
  to.raw(sheet.prepared.item(Item::ArmSystolic, side).bodySite);
  to.raw(",\"component\":[{\"code\":");
  to.raw(sheet.prepared.codeable("part-systolic"));
  to.quantity(systolic, "", "mmHg", "mm[Hg]");
  to.raw("},{\"code\":");
  to.raw(sheet.prepared.codeable("part-diastolic"));
  to.quantity(diastolic, "", "mmHg", "mm[Hg]");
  to.raw("}]");
  to.note("The readings of this arm also stand by themselves, under the codes of this assessment.");
}

}  // namespace

void appendObservations(std::string& out, const Sheet& sheet) {
  for (std::size_t i = 0; i < sheet.readings.size(); ++i) {
    if (sheet.readings[i].written) appendReading(out, sheet, i);
  }
  for (std::size_t i = 0; i < sheet.indices.size(); ++i) {
    if (sheet.indices[i].written) appendIndex(out, sheet, i);
  }
  for (std::size_t i = 0; i < sheet.grades.size(); ++i) {
    const bool alone = !isCriterion(sheet.findings.grades[i]);
    if (alone && sheet.grades[i].written) appendGrade(out, sheet, i);
  }
  for (const std::string_view scheme : schemesOfCriteria(sheet.findings)) {
    for (const Side side : kSides) appendCriteria(out, sheet, scheme, side);
  }
  for (std::size_t i = 0; i < sheet.flags.size(); ++i) appendFlag(out, sheet, i);
  for (const Side side : kSides) appendPanel(out, sheet, side);
  for (const Side side : kSides) {
    if (sheet.armPanels[static_cast<std::size_t>(side)].written) appendArmPanel(out, sheet, side);
  }
}

}  // namespace footbridge::package
