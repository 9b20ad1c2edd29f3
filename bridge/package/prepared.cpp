#include "package/prepared.hpp"

#include <algorithm>
#include <cassert>

#include "json/writer.hpp"
#include "package/markup.hpp"
#include "package/wording.hpp"

namespace footbridge::package {
namespace {

constexpr std::string_view kCategorySystem =
    "http://terminology.hl7.org/CodeSystem/observation-category";
constexpr std::string_view kAbsentSystem =
    "http://terminology.hl7.org/CodeSystem/data-absent-reason";

std::string categoryMember(std::string_view code) {
  const std::string_view display = code == "exam"          ? "Exam"
                                   : code == "vital-signs" ? "Vital Signs"
                                                           : "Social History";
  json::Writer out;
  out.beginArray().beginObject().name("coding").beginArray().beginObject();
  out.member("system", kCategorySystem).member("code", code);
  out.member("display", display);
  out.endObject().endArray().endObject().endArray();
  return "\"category\":" + std::string(out.text());
}

std::string absencePiece(const AbsentReasonRow& row) {
  json::Writer out;
  out.beginObject().name("coding").beginArray().beginObject();
  out.member("system", kAbsentSystem).member("code", row.code).member("display", row.display);
  out.endObject().endArray().endObject();
  std::string text(out.text());
  text.pop_back();
  return text;
}

/// The codings that leave, those of the systems that the realm puts first in that order.
std::vector<const Coding*> inOrder(const Concept& row, const Realm& realm) {
  std::vector<const Coding*> out;
  for (const Coding& coding : row.codings) {
    if (coding.verified) out.push_back(&coding);
  }
  const auto rank = [&realm](const Coding* coding) {
    return std::find(realm.codingOrder.begin(), realm.codingOrder.end(), coding->system) -
           realm.codingOrder.begin();
  };
  std::stable_sort(out.begin(), out.end(),
                   [&rank](const Coding* a, const Coding* b) { return rank(a) < rank(b); });
  return out;
}

constexpr std::array<Side, 3> kAllSides{Side::Right, Side::Left, Side::None};

std::size_t at(Side side) { return static_cast<std::size_t>(side); }

}  // namespace

// The loader has made sure that there is a base.
const Realm& realmOf(const Tables& tables, std::string_view id) {
  const Realm* found = tables.realm(id);
  return found == nullptr ? *tables.realm("base") : *found;
}

std::string identifierSystem(const Tables& tables, std::string_view type) {
  std::string out = tables.canonicalBase + "/id/";
  std::transform(type.begin(), type.end(), std::back_inserter(out),
                 [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
  return out;
}

std::string criterionCode(std::string_view scheme, std::string_view id) {
  return (scheme == "clti-criterion" ? "clti-definition-" : "") + std::string(id);
}

std::string codeSystemUrl(const Tables& tables) {
  return tables.canonicalBase + "/fhir/CodeSystem/footbridge";
}

Prepared::Prepared(const Tables& tables, const BundleOptions& options)
    : tables_(tables), realm_(realmOf(tables, options.realm)), system_(codeSystemUrl(tables)) {
  prepareMetas(options.claims);
  examCategory_ = categoryMember("exam");
  prepareConcepts(tables);
  for (const Side side : kSides) {
    const std::string site = "site-lower-limb-" + std::string(word(side));
    legs_[at(side)] = ",\"bodySite\":" + std::string(codeable(site));
  }
  for (std::size_t i = 0; i < absences_.size(); ++i)
    absences_[i] = absencePiece(absentReasons()[i]);
  prepareItems(tables);
  prepareIndices(tables);
  prepareFrames(tables);
  prepareCriteria(tables);
}

void Prepared::prepareConcepts(const Tables& tables) {
  for (const Concept& row : tables.concepts) {
    std::string codeable = makeCodeable(row);
    if (row.local) exams_.add(row.id, examCategory_ + ",\"code\":" + codeable);
    codeables_.add(row.id, std::move(codeable));
  }
  exams_.index();
  codeables_.index();
}

// Only verified codings leave; the others stand in the table as evidence.
std::string Prepared::makeCodeable(const Concept& row) const {
  json::Writer out;
  out.beginObject().name("coding").beginArray();
  for (const Coding* coding : inOrder(row, realm_)) {
    out.beginObject().member("system", coding->system).member("code", coding->code);
    out.member("display", coding->display).endObject();
  }
  if (row.local) {
    out.beginObject().member("system", system_).member("code", row.id);
    out.member("display", row.label).endObject();
  }
  out.endArray().member("text", row.label).endObject();
  return std::string(out.text());
}

void Prepared::prepareItems(const Tables& tables) {
  for (const ItemRow& row : tables.items) {
    std::array<Pieces, 3>& pieces = items_.emplace_back();
    if (row.concept_id.empty()) continue;
    for (const Side side : kAllSides) {
      Pieces& own = pieces[at(side)];
      own.meta = meta(row.concept_id);
      json::appendXhtml(own.name, named(row.label, side) + ": ");
      own.code =
          categoryMember(row.category) + ",\"code\":" + std::string(codeable(row.concept_id));
      if (side != Side::None && !row.site[at(side)].empty()) {
        own.bodySite = ",\"bodySite\":" + std::string(codeable(row.site[at(side)]));
      }
      if (!row.method.empty()) own.method = ",\"method\":" + std::string(codeable(row.method));
    }
  }
}

void Prepared::prepareIndices(const Tables& tables) {
  for (const IndexRow& row : tables.indices) {
    std::array<Pieces, 3>& pieces = indices_.emplace_back();
    for (const Side side : kAllSides) {
      Pieces& own = pieces[at(side)];
      const std::string& id = conceptOf(row, side);
      own.meta = meta(id);
      json::appendXhtml(own.name, named(row.label, side) + ": ");
      own.code = examCategory_ + ",\"code\":" + std::string(codeable(id));
      if (side != Side::None && !row.site[at(side)].empty()) {
        own.bodySite = ",\"bodySite\":" + std::string(codeable(row.site[at(side)]));
      }
    }
  }
}

// A first revision creates what is not there; a later one replaces what is, and creates as well. An
// instrument is not revised with the visit.
void Prepared::prepareFrames(const Tables& tables) {
  static constexpr std::array<std::string_view, 3> kTypes{"Observation", "Device",
                                                          "DiagnosticReport"};
  for (std::size_t i = 0; i < frames_.size(); ++i) {
    const std::string type(kTypes[i]);
    const std::string system = identifierSystem(tables, type);
    const std::string search = "identifier=" + searchValue(system) + "%7C";
    const std::string request = "},\"request\":{\"method\":";
    std::string quoted;
    json::appendQuoted(quoted, system);
    Frame& frame = frames_[i];
    frame.open = "\",\"resource\":{\"resourceType\":\"" + type + '"';
    frame.narrative =
        ",\"text\":{\"status\":\"generated\",\"div\":\"<div xmlns=\\\""
        "http://www.w3.org/1999/xhtml\\\">";
    frame.identifier = "</div>\"},\"identifier\":[{\"system\":" + quoted + ",\"value\":\"";
    frame.create = request + "\"POST\",\"url\":\"";
    ((frame.create += type) += "\",\"ifNoneExist\":\"") += search;
    frame.update = request + "\"PUT\",\"url\":\"";
    ((frame.update += type) += '?') += search;
  }
  Frame& device = frames_[static_cast<std::size_t>(Resource::Device)];
  device.update = device.create;
}

/// Under which name a realm's profiles are for results of this kind.
std::string_view Prepared::claimOf(const Concept& row) const {
  if (row.id == "arm-pressure-panel") return "blood-pressure";
  const bool loinc = std::any_of(row.codings.begin(), row.codings.end(), [](const Coding& coding) {
    return coding.verified && coding.system == "http://loinc.org";
  });
  return loinc ? "loinc-result" : "result";
}

void Prepared::prepareMeta(std::string_view key, std::string_view name, std::string_view of,
                           Claims claims) {
  json::Writer out;
  out.beginObject().name("profile").beginArray();
  out.string(tables_.canonicalBase + "/fhir/StructureDefinition/" + std::string(name));
  for (const RealmProfile& profile : realm_.profiles) {
    const bool asked = claims == Claims::All || (claims == Claims::Checked && profile.checked);
    const bool meant = profile.of == of || (profile.of == "result" && of == "loinc-result");
    if (asked && meant) out.string(profile.url);
  }
  out.endArray().endObject();
  metas_.add(key, ",\"meta\":" + std::string(out.text()));
}

void Prepared::prepareMetas(Claims claims) {
  if (claims == Claims::None) return;
  prepareMeta("arterial-assessment", "arterial-assessment", "DiagnosticReport", claims);
  prepareMeta("provenance", "provenance", "Provenance", claims);
  prepareMeta("instrument", "instrument", "Device", claims);
  prepareMeta("patient", "patient", "Patient", claims);
  // Realms ask for name, gender and date of birth, also of whomever a blood pressure is of.
  prepareMeta("patient-unnamed", "patient", "Patient", Claims::Ours);
  prepareMeta("arm-pressure-panel-unnamed", "arm-pressure-panel", "", Claims::Ours);
  // The report is in both lists; what stands first is kept.
  for (const Concept& row : tables_.concepts) prepareMeta(row.id, row.id, claimOf(row), claims);
  metas_.index();
}

std::string_view Prepared::meta(RowId name) const {
  const std::string* found = metas_.find(name);
  return found == nullptr ? std::string_view{} : std::string_view{*found};
}

std::string_view Prepared::unit(std::string_view ucum, std::string_view usual) const {
  if (realm_.units.empty()) return usual;
  const auto found = realm_.units.find(ucum);
  return found == realm_.units.end() ? usual : std::string_view{found->second};
}

void Prepared::prepareCriteria(const Tables& tables) {
  const auto add = [this](std::string_view scheme, const std::string& id, const std::string& name) {
    json::Writer code;
    code.beginObject().name("coding").beginArray().beginObject();
    code.member("system", system_).member("code", criterionCode(scheme, id));
    code.endObject().endArray().member("text", name).endObject();
    CriterionPieces pieces{{}, {}, "{\"code\":" + std::string(code.text())};
    json::appendXhtml(pieces.said, name + ": ");
    json::appendEscaped(pieces.noted, name + ": ");
    criteria_.add(id, std::move(pieces));
  };
  for (const CltiDefinition& row : tables.clti) add(row.scheme, row.id, row.name);
  for (const Criterion& row : tables.criteria) add(row.scheme, row.id, row.name);
  criteria_.index();
}

const CriterionPieces& Prepared::criterion(RowId id) const {
  const CriterionPieces* found = criteria_.find(id);
  assert(found != nullptr);
  return *found;
}

std::string_view Prepared::exam(RowId conceptId) const {
  const std::string* found = exams_.find(conceptId);
  assert(found != nullptr);
  return *found;
}

std::string Prepared::vitalSign(RowId conceptId) const {
  return categoryMember("vital-signs") + ",\"code\":" + std::string(codeable(conceptId));
}

std::string_view Prepared::codeable(RowId conceptId) const {
  const std::string* found = codeables_.find(conceptId);
  return found == nullptr ? std::string_view{"{}"} : std::string_view{*found};
}

std::string_view Prepared::wordConcept(const ItemRow& row, std::string_view word) const {
  const WordRow* found = tables_.wordOf(row, word);
  return found == nullptr ? "{}" : codeable(found->concept_id);
}

const Pieces& Prepared::item(Item item, Side side) const {
  return items_[static_cast<std::size_t>(item)][at(side)];
}

const Pieces& Prepared::index(IndexKind kind, Side side) const {
  return indices_[static_cast<std::size_t>(kind)][at(side)];
}

}  // namespace footbridge::package
