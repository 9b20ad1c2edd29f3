#include "package/sheet.hpp"

#include <algorithm>

#include "json/writer.hpp"
#include "package/markup.hpp"
#include "package/wording.hpp"

namespace footbridge::package {
namespace {

/// An attribute (which toe, which sensor) is told by the reading it belongs to, not on its own.
bool isWritten(const Reading& reading, const Tables& tables) {
  return !tables.row(reading.item).concept_id.empty();
}

/// An index that nobody tried to read is not worth a resource; that ABI or TBI are missing on a leg
/// that was examined is.
bool isWritten(const Index& index, const Assessment& assessment) {
  // Formulas that are shown by the explanation only: a record would fill with indices that nobody
  // asked for.
  if (index.kind == IndexKind::AbiMeanArms || index.kind == IndexKind::AbiMeanAnkle) return false;
  if (index.present()) return true;
  const bool main = index.kind == IndexKind::Abi || index.kind == IndexKind::Tbi;
  return main && examined(assessment, index.side);
}

bool isTissueLoss(Item item) {
  return (item >= Item::RestPain && item <= Item::RestPainDays) ||
         (item >= Item::WoundDepth && item <= Item::StatedUnsalvageable);
}

bool concernsThreat(const Assessment& assessment, Side side) {
  return std::any_of(assessment.readings.begin(), assessment.readings.end(),
                     [side](const Reading& r) { return r.side == side && isTissueLoss(r.item); });
}

/// What a leg shows, asked once for all its grades.
struct Shown {
  bool readings;
  bool threat;
  bool complaints;

  Shown(const Assessment& assessment, Side side)
      : readings(examined(assessment, side)),
        threat(concernsThreat(assessment, side)),
        complaints(complains(assessment, side)) {}
};

/// Bands of the chosen rule set; the threatened-limb grades where they can be given or the leg
/// shows what they are for; waveform classes wherever there was something to class.
bool isWritten(const Grade& grade, const Shown& shown, const Sheet& sheet) {
  if (!shown.readings) return false;
  if (grade.scheme == "abi-band" || grade.scheme == "tbi-band") {
    return grade.ruleSet == sheet.options.ruleSet;
  }
  if (grade.scheme.starts_with("wifi-")) {
    return grade.present() || shown.threat;
  }
  if (grade.scheme == "fontaine" || grade.scheme.starts_with("rutherford")) {
    return grade.present() || shown.complaints;
  }
  if (grade.scheme == "waveform-class" && grade.item) {
    const Reading* reading = sheet.assessment.find(*grade.item, grade.side);
    return reading != nullptr && !std::holds_alternative<Absence>(reading->content);
  }
  return true;
}

std::string subjectOf(const Sheet& sheet) {
  const Identifier& identifier = mainIdentifier(sheet.assessment.patient, sheet.prepared.realm());
  std::string out = "{";
  if (sheet.options.patientReference == PatientReference::Create) {
    out.clear();
    appendReference(out, sheet.patient);
    return out;
  }
  if (sheet.options.patientReference == PatientReference::Conditional) {
    const std::string query = "Patient?identifier=" + searchValue(identifier.system) + "%7C" +
                              searchValue(identifier.value);
    out += "\"reference\":";
    json::appendQuoted(out, query);
  } else {
    out += "\"type\":\"Patient\",\"identifier\":";
    appendIdentifier(out, identifier);
  }
  return out + "}";
}

/// ,"encounter":...: no encounter is ever invented, so it is pointed at by its own identifier.
void appendLink(std::string& out, std::string_view member, std::string_view type,
                const std::optional<Identifier>& identifier) {
  if (!identifier) return;
  (out += ",\"") += member;
  ((out += "\":{\"type\":\"") += type) += "\",\"identifier\":";
  appendIdentifier(out, *identifier);
  out += '}';
}

/// Who is meant, when it was measured, by whom.
std::string commonOf(const Sheet& sheet, const std::string& effective, const Realm& realm) {
  const Assessment& a = sheet.assessment;
  std::string out = ",\"subject\":" + sheet.subject;
  if (allows(realm, "Observation.encounter")) {
    appendLink(out, "encounter", "Encounter", a.encounter);
  }
  ((out += ",\"effectiveDateTime\":\"") += effective) += '"';
  if (allows(realm, "Observation.issued")) {
    ((out += ",\"issued\":\"") += text(a.issuedAt.value_or(a.measuredAt))) += '"';
  }
  out += ",\"performer\":[";
  appendParty(out, "Practitioner", a.performer);
  out += ',';
  appendParty(out, "Organization", a.organization);
  return out + "]";
}

/// Both pressures of the arm as plain figures: a bound or a finding is no blood pressure.
bool hasArmPanel(const Sheet& sheet, Side side) {
  if (sheet.prepared.realm().armPanel == ArmPanel::No) return false;
  const auto plain = [&](Item item) {
    const Reading* reading = sheet.assessment.find(item, side);
    return reading != nullptr && std::holds_alternative<Pressure>(reading->content) &&
           symbol(reading->comparator).empty();
  };
  return plain(Item::ArmSystolic) && plain(Item::ArmDiastolic);
}

/// Names members from what they are: "reading/toe/right" below the name of the visit. Members that
/// follow each other under one name (the criteria of a leg) share the resource.
class Namer {
 public:
  Namer(const Uuid& visit, const UuidMaker& uuids) : uuids_(uuids), name_(view(visit)) {
    name_ += '/';
    root_ = name_.size();
  }

  Uuid make(std::string_view kind, std::string_view name, Side side) {
    start(kind) += name;
    return finish(side);
  }

  std::string& start(std::string_view kind) {
    name_.resize(root_);
    return (name_ += kind) += '/';
  }

  Uuid finish(Side side) {
    if (side != Side::None) (name_ += '/') += word(side);
    if (name_ != last_) {
      uuid_ = uuids_.make(name_);
      last_ = name_;
    }
    return uuid_;
  }

 private:
  const UuidMaker& uuids_;
  std::string name_;
  std::string last_;
  std::size_t root_ = 0;
  Uuid uuid_{};
};

Uuid gradeUuid(Namer& namer, const Grade& grade) {
  std::string& name = namer.start("grade") += grade.scheme;
  if (grade.item) (name += '/') += id(*grade.item);
  return namer.finish(grade.side);
}

Uuid flagUuid(Namer& namer, const Flag& flag) {
  std::string& name = namer.start("flag") += flag.rule;
  for (const ReadingRef& ref : flag.inputs) ((name += '/') += id(ref.item)) += word(ref.side);
  return namer.finish(flag.side);
}

/// What is not written needs no name.
void nameMembers(Sheet& sheet, const UuidMaker& uuids) {
  Namer namer(sheet.visit, uuids);
  sheet.readings.reserve(sheet.assessment.readings.size());
  for (const Reading& r : sheet.assessment.readings) {
    const bool written = isWritten(r, sheet.tables);
    sheet.readings.push_back(
        {written ? namer.make("reading", id(r.item), r.side) : Uuid{}, r.side, written});
  }
  sheet.indices.reserve(sheet.findings.indices.size());
  for (const Index& i : sheet.findings.indices) {
    const bool written = isWritten(i, sheet.assessment);
    sheet.indices.push_back(
        {written ? namer.make("index", id(i.kind), i.side) : Uuid{}, i.side, written});
  }
  sheet.grades.reserve(sheet.findings.grades.size());
  const std::array<Shown, 3> shown{Shown{sheet.assessment, Side::Right},
                                   Shown{sheet.assessment, Side::Left},
                                   Shown{sheet.assessment, Side::None}};
  for (const Grade& g : sheet.findings.grades) {
    const bool written = isWritten(g, shown[static_cast<std::size_t>(g.side)], sheet);
    sheet.grades.push_back({written ? gradeUuid(namer, g) : Uuid{}, g.side, written});
  }
  for (const Flag& f : sheet.findings.flags) {
    sheet.flags.push_back({flagUuid(namer, f), f.side, true});
  }
  for (const Side side : kSides) {
    sheet.panels[static_cast<std::size_t>(side)] = namer.make("panel", "leg", side);
    const bool armPanel = hasArmPanel(sheet, side);
    sheet.armPanels[static_cast<std::size_t>(side)] = {
        armPanel ? namer.make("panel", "arm", side) : Uuid{}, side, armPanel};
  }
  sheet.report = namer.make("report", "arterial-assessment", Side::None);
  sheet.provenance =
      namer.make("provenance", std::to_string(sheet.assessment.revision), Side::None);
}

Uuid instrumentUuid(const Instrument& instrument, const UuidMaker& uuids) {
  return uuids.make("instrument/" + std::string(instrument.kind) + "/" + instrument.manufacturer +
                    "/" + instrument.model + "/" + instrument.serial);
}

}  // namespace

void appendReference(std::string& out, const Uuid& uuid) {
  constexpr std::string_view kBefore = "{\"reference\":\"urn:uuid:";
  constexpr std::string_view kAfter = "\"}";
  // Of a size that is known, so that it is put together without a call.
  std::array<char, kBefore.size() + std::tuple_size_v<Uuid> + kAfter.size()> whole;
  char* const name = std::copy(kBefore.begin(), kBefore.end(), whole.data());
  std::copy(kAfter.begin(), kAfter.end(), std::copy(uuid.begin(), uuid.end(), name));
  out.append(whole.data(), whole.size());
}

std::string activity(std::string_view code, std::string_view display) {
  std::string out =
      R"("activity":{"coding":[{"system":"http://terminology.hl7.org/CodeSystem/v3-DataOperation")";
  ((out += R"(,"code":")") += code) += R"(","display":")";
  return (out += display) += R"("}]})";
}

void appendIdentifier(std::string& out, const Identifier& identifier) {
  out += "{\"system\":";
  json::appendQuoted(out, identifier.system);
  out += ",\"value\":";
  json::appendQuoted(out, identifier.value);
  out += '}';
}

void appendParty(std::string& out, std::string_view type, const Party& party) {
  ((out += "{\"type\":\"") += type) += '"';
  if (party.identifier) {
    out += ",\"identifier\":";
    appendIdentifier(out, *party.identifier);
  }
  if (!party.name.empty()) {
    out += ",\"display\":";
    json::appendQuoted(out, party.name);
  }
  out += '}';
}

bool isNamed(const Patient& patient) {
  const bool named = !patient.family.empty() || !patient.given.empty();
  return named && !patient.gender.empty() && patient.birthDate.has_value();
}

const Identifier& mainIdentifier(const Patient& patient, const Realm& realm) {
  for (const std::string& system : realm.patientSystems) {
    for (const Identifier& identifier : patient.identifiers) {
      if (identifier.system == system) return identifier;
    }
  }
  return patient.identifiers.front();
}

void openEntry(std::string& out, const Sheet& sheet, Resource kind, const Uuid& uuid,
               std::string_view meta) {
  const Frame& frame = sheet.prepared.frame(kind);
  (((out += "{\"fullUrl\":\"urn:uuid:") += view(uuid)) += frame.open) += meta;
  out += frame.narrative;
}

void endNarrative(std::string& out, const Sheet& sheet, Resource kind, const Uuid& uuid) {
  ((out += sheet.prepared.frame(kind).identifier) += view(uuid)) += "\"}]";
}

void closeEntry(std::string& out, const Sheet& sheet, Resource kind, const Uuid& uuid) {
  const Frame& frame = sheet.prepared.frame(kind);
  out += sheet.assessment.revision > 1 ? frame.update : frame.create;
  (out += view(uuid)) += "\"}}";
}

Sheet makeSheet(const Assessment& assessment, const Findings& findings, const Issues& issues,
                const Tables& tables, const Prepared& prepared, const BundleOptions& options,
                const UuidMaker& uuids) {
  Sheet sheet{assessment, findings, issues, tables, prepared, options};
  sheet.visit =
      uuids.make("assessment/" + assessment.identifier.system + "|" + assessment.identifier.value);
  if (options.patientReference == PatientReference::Create) {
    const Identifier& patient = mainIdentifier(assessment.patient, prepared.realm());
    sheet.patient = uuids.make("patient/" + patient.system + "|" + patient.value);
  }
  nameMembers(sheet, uuids);
  for (const Instrument& instrument : assessment.instruments) {
    sheet.instruments.push_back(instrument.serial.empty() ? Uuid{}
                                                          : instrumentUuid(instrument, uuids));
  }
  sheet.status = word(assessment.status);
  sheet.subject = subjectOf(sheet);
  const Realm& realm = prepared.realm();
  sheet.common = commonOf(sheet, text(assessment.measuredAt), realm);
  // What a realm forbids it forbids of results, not of the report.
  if (!realm.forbidden.empty())
    sheet.commonOfReport = commonOf(sheet, text(assessment.measuredAt), {});
  if (assessment.previousOn) {
    sheet.commonBefore = commonOf(sheet, text(*assessment.previousOn), realm);
  }
  sheet.when = spoken(assessment.measuredAt);
  json::appendXhtml(sheet.toIdentifier, ". " + sheet.when + ". Status: " + sheet.status + ".");
  sheet.toIdentifier += "</p>" + prepared.frame(Resource::Observation).identifier;
  sheet.fromIdentifier = "\"}],\"status\":\"" + sheet.status + "\",";
  return sheet;
}

}  // namespace footbridge::package
