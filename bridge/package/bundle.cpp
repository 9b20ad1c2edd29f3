#include "package/bundle.hpp"

#include "json/writer.hpp"
#include "package/observation.hpp"
#include "package/record.hpp"

namespace footbridge::package {
namespace {

/// All names of ours lie below the canonical base, so that two deployments never name alike.
UuidNamespace ownNamespace(const Tables& tables) {
  return octets(UuidMaker(kUrlNamespace).make(tables.canonicalBase + "/id"));
}

void appendConcept(json::Writer& out, std::string_view code, std::string_view display,
                   std::string_view definition) {
  out.beginObject().member("code", code).member("display", display);
  out.member("definition", definition).endObject();
}

std::vector<const Rule*> flagRules(const Tables& tables) {
  std::vector<const Rule*> out;
  for (const Rule& rule : tables.rules) {
    if (rule.stage == "flag") out.push_back(&rule);
  }
  return out;
}

}  // namespace

BundleWriter::BundleWriter(const Tables& tables, BundleOptions options)
    : tables_(tables),
      options_(std::move(options)),
      prepared_(tables, options_),
      uuids_(ownNamespace(tables)) {}

std::size_t BundleWriter::append(std::string& out, const Assessment& assessment,
                                 const Findings& findings, const Issues& issues) {
  const Sheet sheet = makeSheet(assessment, findings, issues, tables_, prepared_, options_, uuids_);
  // Growing from nothing copies it several times; it is about as large as the one before.
  const std::size_t begin = out.size();
  out.reserve(begin + room_);
  out += "{\"resourceType\":\"Bundle\",\"type\":\"transaction\",\"entry\":[";
  appendPatient(out, sheet);
  const std::size_t instruments = appendInstruments(out, sheet);
  appendObservations(out, sheet);
  appendReport(out, sheet);
  const std::size_t targets = appendProvenance(out, sheet);
  out += "]}";
  const std::size_t bytes = out.size() - begin;
  room_ = bytes + bytes / 8;
  const std::size_t patients = options_.patientReference == PatientReference::Create ? 1 : 0;
  return patients + instruments + targets + 1;
}

std::string codeSystem(const Tables& tables, std::string_view version) {
  json::Writer out;
  out.beginObject().member("resourceType", "CodeSystem").member("id", "footbridge");
  out.name("text").beginObject().member("status", "generated");
  out.member("div",
             "<div xmlns=\"http://www.w3.org/1999/xhtml\"><p>Codes of Footbridge for what no "
             "verified standard code names.</p></div>");
  out.endObject().member("url", codeSystemUrl(tables)).member("version", version);
  out.member("name", "FootbridgeCodes").member("title", "Footbridge codes");
  out.member("status", "active").name("experimental").boolean(false);
  out.member("publisher", "Footbridge");
  out.member("description",
             "Readings, answers, indices, grades, flags and definitions of a lower-limb arterial "
             "assessment for which no verified standard code was found.");
  out.name("caseSensitive")
      .boolean(true)
      .member("content", "complete")
      .name("concept")
      .beginArray();
  for (const Concept& row : tables.concepts) {
    if (row.local) appendConcept(out, row.id, row.label, row.definition);
  }
  for (const Rule* rule : flagRules(tables)) {
    appendConcept(out, rule->id, rule->id, rule->sentence.text());
  }
  for (const CltiDefinition& definition : tables.clti) {
    appendConcept(out, criterionCode(definition.scheme, definition.id), definition.name,
                  definition.source.text);
  }
  for (const Criterion& row : tables.criteria) {
    appendConcept(out, row.id, row.name, row.source.text);
  }
  out.endArray().endObject();
  return std::string(out.text());
}

}  // namespace footbridge::package
