#include "package/record.hpp"

#include <algorithm>

#include "json/writer.hpp"
#include "package/markup.hpp"
#include "package/summary.hpp"
#include "package/wording.hpp"

namespace footbridge::package {
namespace {

void appendName(std::string& out, const Patient& patient) {
  if (patient.family.empty() && patient.given.empty()) return;
  out += ",\"name\":[{\"use\":\"official\"";
  json::appendMember(out, "family", patient.family);
  if (!patient.given.empty()) {
    out += ",\"given\":[";
    for (std::size_t i = 0; i < patient.given.size(); ++i) {
      if (i > 0) out += ',';
      json::appendQuoted(out, patient.given[i]);
    }
    out += ']';
  }
  out += "}]";
}

/// R5 gave the model a member of its own and a device several types.
void appendModel(std::string& out, std::string_view name, std::string_view type, Edition edition) {
  if (edition == Edition::R5) {
    json::appendMember(out, "modelNumber", name);
    ((out += ",\"type\":[") += type) += ']';
    return;
  }
  out += ",\"deviceName\":[{\"name\":";
  json::appendQuoted(out, name);
  (out += ",\"type\":\"model-name\"}],\"type\":") += type;
}

void appendInstrument(std::string& out, const Sheet& sheet, std::size_t at) {
  const Instrument& instrument = sheet.assessment.instruments[at];
  const std::string conceptId = "instrument-" + std::string(instrument.kind);
  const std::string name =
      instrument.model.empty() ? std::string(instrument.kind) : instrument.model;
  openEntry(out, sheet, Resource::Device, sheet.instruments[at], sheet.prepared.meta("instrument"));
  out += "<p>";
  json::appendXhtml(out, sheet.tables.concept_(conceptId)->label + ": " + instrument.manufacturer +
                             " " + name + ", serial number " + instrument.serial);
  out += ".</p>";
  endNarrative(out, sheet, Resource::Device, sheet.instruments[at]);
  json::appendMember(out, "manufacturer", instrument.manufacturer);
  json::appendMember(out, "serialNumber", instrument.serial);
  appendModel(out, name, sheet.prepared.codeable(conceptId), sheet.options.edition);
  if (instrument.calibratedOn) {
    out += ",\"note\":[{\"text\":\"Calibrated on " + footbridge::spoken(*instrument.calibratedOn) +
           ".\"}]";
  }
  closeEntry(out, sheet, Resource::Device, sheet.instruments[at]);
  out += ',';
}

/// What the report points at: the panels, and whatever belongs to no leg.
std::vector<Uuid> results(const Sheet& sheet) {
  std::vector<Uuid> out;
  for (std::size_t i = 0; i < sheet.readings.size(); ++i) {
    const Reading& reading = sheet.assessment.readings[i];
    const bool ofLeg = reading.side != Side::None && reading.item > Item::ArmSystolicAfterExercise;
    if (!ofLeg && sheet.readings[i].written) out.push_back(sheet.readings[i].uuid);
  }
  const auto take = [&out](const std::vector<Member>& members) {
    for (const Member& member : members) {
      if (member.side == Side::None && member.written) out.push_back(member.uuid);
    }
  };
  take(sheet.indices);
  take(sheet.grades);
  take(sheet.flags);
  for (const Member& arm : sheet.armPanels) {
    if (arm.written) out.push_back(arm.uuid);
  }
  return out;
}

bool hasPanel(const Sheet& sheet, Side side) {
  const auto written = [side](const Member& member) {
    return member.side == side && member.written;
  };
  for (std::size_t i = 0; i < sheet.readings.size(); ++i) {
    const bool leg = sheet.assessment.readings[i].item > Item::ArmSystolicAfterExercise;
    if (leg && written(sheet.readings[i])) return true;
  }
  return std::any_of(sheet.indices.begin(), sheet.indices.end(), written) ||
         std::any_of(sheet.grades.begin(), sheet.grades.end(), written) ||
         std::any_of(sheet.flags.begin(), sheet.flags.end(), written);
}

void appendNarrative(std::string& out, const std::string& headline,
                     const std::vector<SummaryPart>& parts) {
  out += "<p>";
  json::appendXhtml(out, headline);
  out += "</p>";
  for (const SummaryPart& part : parts) {
    out += "<p><b>";
    json::appendXhtml(out, part.title);
    out += "</b></p><ul>";
    for (const std::string& line : part.lines) {
      out += "<li>";
      json::appendXhtml(out, line);
      out += "</li>";
    }
    out += "</ul>";
  }
}

/// A JSON text of lines, each title above its own.
void appendConclusion(std::string& out, const std::string& headline,
                      const std::vector<SummaryPart>& parts) {
  json::appendEscaped(out += '"', headline);
  for (const SummaryPart& part : parts) {
    json::appendEscaped(out += "\\n", part.title);
    out += ':';
    for (const std::string& line : part.lines) json::appendEscaped(out += "\\n- ", line);
  }
  out += '"';
}

/// ,"result":[...]: left out where there is none, as FHIR knows no empty list.
void appendResults(std::string& out, const Sheet& sheet) {
  std::vector<Uuid> all;
  for (const Side side : kSides) {
    if (hasPanel(sheet, side)) all.push_back(sheet.panels[static_cast<std::size_t>(side)]);
  }
  const std::vector<Uuid> others = results(sheet);
  all.insert(all.end(), others.begin(), others.end());
  std::string_view before = ",\"result\":[";
  for (const Uuid& uuid : all) {
    appendReference(out += before, uuid);
    before = ",";
  }
  if (!all.empty()) out += ']';
}

std::size_t appendTargets(std::string& out, const Sheet& sheet) {
  std::size_t count = 0;
  const auto add = [&](const Uuid& uuid) {
    if (count++ > 0) out += ',';
    appendReference(out, uuid);
  };
  // The criteria of a leg stand beside each other and share one Observation.
  const Uuid* last = nullptr;
  for (const auto* members : {&sheet.readings, &sheet.indices, &sheet.grades, &sheet.flags}) {
    for (const Member& member : *members) {
      if (!member.written || (last != nullptr && *last == member.uuid)) continue;
      last = &member.uuid;
      add(member.uuid);
    }
  }
  for (const Side side : kSides) {
    if (hasPanel(sheet, side)) add(sheet.panels[static_cast<std::size_t>(side)]);
  }
  for (const Member& arm : sheet.armPanels) {
    if (arm.written) add(arm.uuid);
  }
  add(sheet.report);
  return count;
}

/// One agent: {"type":...,"who":...}.
void appendAgent(std::string& out, std::string_view code, std::string_view display,
                 std::string_view who) {
  ((out += "{\"type\":{\"coding\":[{\"system\":\"http://terminology.hl7.org/CodeSystem/"
           "provenance-participant-type\",\"code\":\"") += code) += "\",\"display\":\"";
  ((out += display) += "\"}]},\"who\":") += who;
  out += '}';
}

void appendAgents(std::string& out, const Sheet& sheet) {
  std::string who;
  appendParty(who, "Practitioner", sheet.assessment.performer);
  appendAgent(out, "performer", "Performer", who);
  out += ',';
  who.clear();
  appendParty(who, "Organization", sheet.assessment.organization);
  appendAgent(out, "custodian", "Custodian", who);
  out += ',';
  who.clear();
  appendParty(who, "Device",
              {Identifier{identifierSystem(sheet.tables, "software"), "footbridge"},
               "Footbridge " + sheet.options.version + ", tables SHA-256 " + sheet.tables.digest});
  appendAgent(out, "assembler", "Assembler", who);
}

/// What this takes the place of: an earlier revision, or another assessment.
void appendReplaced(std::string& out, const Sheet& sheet) {
  const Assessment& assessment = sheet.assessment;
  const auto add = [&out](const Identifier& what, const std::string& display) {
    out += ",{\"role\":\"revision\",\"what\":{\"identifier\":";
    appendIdentifier(out, what);
    out += ",\"display\":\"" + display + "\"}}";
  };
  if (assessment.revision > 1) {
    add(assessment.identifier,
        "Assessment up to revision " + std::to_string(assessment.revision - 1));
  }
  if (assessment.replaces)
    add(*assessment.replaces, "Assessment that this one replaces, withdrawn");
}

std::string activityOf(const Assessment& assessment) {
  if (assessment.status == Status::EnteredInError) return activity("NULLIFY", "nullify");
  return assessment.revision > 1 ? activity("UPDATE", "revise") : activity("CREATE", "create");
}

}  // namespace

void appendPatient(std::string& out, const Sheet& sheet) {
  if (sheet.options.patientReference != PatientReference::Create) return;
  const Patient& patient = sheet.assessment.patient;
  std::string narrative = "<p>";
  json::appendXhtml(narrative, nameOf(patient).empty() ? "Patient" : nameOf(patient));
  if (patient.birthDate) narrative += ", born " + footbridge::spoken(*patient.birthDate);
  ((out += "{\"fullUrl\":\"urn:uuid:") += view(sheet.patient)) += "\",\"resource\":{";
  (out += "\"resourceType\":\"Patient\"") +=
      sheet.prepared.meta(choose(isNamed(patient), "patient", "patient-unnamed"));
  out += ",\"text\":{\"status\":\"generated\",\"div\":\"<div xmlns=\\\"";
  out += "http://www.w3.org/1999/xhtml\\\">" + narrative + "</p></div>\"},\"identifier\":[";
  for (std::size_t i = 0; i < patient.identifiers.size(); ++i) {
    if (i > 0) out += ',';
    appendIdentifier(out, patient.identifiers[i]);
  }
  out += ']';
  appendName(out, patient);
  json::appendMember(out, "gender", patient.gender);
  if (patient.birthDate) json::appendMember(out, "birthDate", text(*patient.birthDate));
  const Identifier& first = mainIdentifier(patient, sheet.prepared.realm());
  out += "},\"request\":{\"method\":\"POST\",\"url\":\"Patient\",\"ifNoneExist\":\"identifier=" +
         searchValue(first.system) + "%7C" + searchValue(first.value) + "\"}},";
}

std::size_t appendInstruments(std::string& out, const Sheet& sheet) {
  std::vector<Uuid> done;
  for (std::size_t i = 0; i < sheet.instruments.size(); ++i) {
    const bool twice = std::find(done.begin(), done.end(), sheet.instruments[i]) != done.end();
    if (sheet.assessment.instruments[i].serial.empty() || twice) continue;
    done.push_back(sheet.instruments[i]);
    appendInstrument(out, sheet, i);
  }
  return done.size();
}

void appendReport(std::string& out, const Sheet& sheet) {
  const std::vector<SummaryPart> parts = summarise(sheet.assessment, sheet.findings, sheet.issues,
                                                   sheet.tables, sheet.options.ruleSet);
  openEntry(out, sheet, Resource::DiagnosticReport, sheet.report,
            sheet.prepared.meta("arterial-assessment"));
  const std::string head = headline(sheet.assessment);
  appendNarrative(out, head, parts);
  endNarrative(out, sheet, Resource::DiagnosticReport, sheet.report);
  ((out += ",\"status\":\"") += sheet.status) += "\"";
  if (sheet.assessment.order) {
    out += ",\"basedOn\":[{\"type\":\"ServiceRequest\",\"identifier\":";
    appendIdentifier(out, *sheet.assessment.order);
    out += "}]";
  }
  out +=
      ",\"category\":[{\"coding\":[{\"system\":\"http://terminology.hl7.org/CodeSystem/v2-0074\"";
  out += ",\"code\":\"NRS\",\"display\":\"Nursing Service Measures\"}]}],\"code\":";
  (out += sheet.prepared.codeable("arterial-assessment")) +=
      sheet.commonOfReport.empty() ? sheet.common : sheet.commonOfReport;
  appendResults(out, sheet);
  out += ",\"conclusion\":";
  appendConclusion(out, head, parts);
  closeEntry(out, sheet, Resource::DiagnosticReport, sheet.report);
  out += ',';
}

// R4 gives Provenance no identifier to search by. Its condition is a tag of our own with the
// name-based UUID, so that sending the bundle again makes no second one.
std::size_t appendProvenance(std::string& out, const Sheet& sheet) {
  const std::string tagSystem = identifierSystem(sheet.tables, "provenance");
  ((out += "{\"fullUrl\":\"urn:uuid:") += view(sheet.provenance)) += "\",\"resource\":{";
  std::string meta(sheet.prepared.meta("provenance"));
  if (meta.empty()) {
    meta = ",\"meta\":{";
  } else {
    meta.back() = ',';
  }
  out += "\"resourceType\":\"Provenance\"" + meta + "\"tag\":[{\"system\":\"" + tagSystem;
  ((out += "\",\"code\":\"") += view(sheet.provenance)) += "\"}]},\"text\":{\"status\":";
  out += "\"generated\",\"div\":\"<div xmlns=\\\"http://www.w3.org/1999/xhtml\\\"><p>";
  json::appendXhtml(out, "Readings of " + sheet.when + " by " + sheet.assessment.performer.name +
                             ", assembled by Footbridge " + sheet.options.version + ".");
  out += "</p></div>\"},\"target\":[";
  const std::size_t targets = appendTargets(out, sheet);
  ((out += "],\"occurredDateTime\":\"") += text(sheet.assessment.measuredAt)) +=
      "\",\"recorded\":\"";
  out += text(sheet.assessment.issuedAt.value_or(sheet.assessment.measuredAt));
  ((out += "\",") += activityOf(sheet.assessment)) += ",\"agent\":[";
  appendAgents(out, sheet);
  out += "],\"entity\":[{\"role\":\"source\",\"what\":{\"identifier\":";
  appendIdentifier(out, sheet.assessment.identifier);
  out += ",\"display\":\"Assessment as received, revision " +
         std::to_string(sheet.assessment.revision) + ", SHA-256 " + sheet.assessment.sourceDigest +
         "\"}}";
  appendReplaced(out, sheet);
  out += "]},\"request\":{\"method\":\"POST\",\"url\":\"Provenance\",\"ifNoneExist\":\"_tag=" +
         searchValue(tagSystem) + "%7C";
  (out += view(sheet.provenance)) += "\"}}";
  return targets;
}

}  // namespace footbridge::package
