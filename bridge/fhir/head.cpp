#include "fhir/head.hpp"

#include <algorithm>

namespace footbridge::fhir {
namespace {

const json::Value* first(const json::Value& resource, std::string_view name) {
  const json::Array& list = resource.list(name);
  return list.empty() ? nullptr : &list.front();
}

bool same(const json::Value& one, const json::Value& other) {
  return one.text("system") == other.text("system") && one.text("value") == other.text("value");
}

void putIdentifiers(Draft& draft, const json::Value* logical, const json::Value* patient) {
  if (logical != nullptr) {
    draft.appendIdentifier("/patient/identifiers", *logical, "subject.identifier");
  }
  if (patient == nullptr) return;
  for (const json::Value& each : patient->list("identifier")) {
    if (logical != nullptr && same(*logical, each)) continue;
    draft.appendIdentifier("/patient/identifiers", each, "Patient.identifier");
  }
}

/// A name as it is said, whichever of its parts are given.
std::string spokenName(const json::Value& resource) {
  if (!resource.text("name").empty()) return std::string(resource.text("name"));
  const json::Value* name = first(resource, "name");
  if (name == nullptr) return {};
  if (!name->text("text").empty()) return std::string(name->text("text"));
  std::string out;
  for (const json::Value& given : name->list("given")) {
    if (const std::string* text = given.asString()) out += *text + " ";
  }
  return std::string(trimmed(out + std::string(name->text("family"))));
}

}  // namespace

const json::Value* Scope::resolve(const json::Value& reference) const {
  const std::string_view to = reference.text("reference");
  if (to.empty()) return nullptr;
  const json::Value& outer = container == nullptr ? resource : *container;
  if (!to.starts_with('#')) return entries == nullptr ? nullptr : entries->find(to);
  if (entries != nullptr) return entries->contained(outer, to.substr(1));
  for (const json::Value& each : outer.list("contained")) {
    if (each.text("id") == to.substr(1)) return &each;
  }
  return nullptr;
}

std::string typeOf(const json::Value& reference, const json::Value* found) {
  if (found != nullptr) return std::string(found->text("resourceType"));
  if (!reference.text("type").empty()) return std::string(reference.text("type"));
  const std::string_view to = reference.text("reference");
  const std::size_t slash = to.rfind('/');
  if (slash == std::string_view::npos || slash == 0) return {};
  const std::size_t before = to.rfind('/', slash - 1);
  const std::size_t begin = before == std::string_view::npos ? 0 : before + 1;
  return std::string(to.substr(begin, slash - begin));
}

void putSubject(Draft& draft, const Scope& scope, const json::Value* subject) {
  draft.locate("/patient", "subject");
  draft.locate("/patient/identifiers", "subject.identifier");
  if (subject == nullptr) return;
  const json::Value* patient = scope.resolve(*subject);
  const json::Value searched = searchedBy(*subject);
  const json::Value* logical = subject->member("identifier");
  putIdentifiers(draft, logical == nullptr && !searched.isNull() ? &searched : logical, patient);
  if (patient == nullptr) return;
  if (const json::Value* name = first(*patient, "name")) {
    draft.putText("/patient/family", name->text("family"), "Patient.name.family");
    for (const json::Value& given : name->list("given")) {
      draft.append("/patient/given", given, "Patient.name.given");
    }
  }
  draft.putText("/patient/birthDate", patient->text("birthDate"), "Patient.birthDate");
  draft.putText("/patient/gender", patient->text("gender"), "Patient.gender");
}

void putParty(Draft& draft, const Scope& scope, const json::Value& reference,
              const std::string& pointer, const std::string& place) {
  draft.locate(pointer, place);
  const json::Value* found = scope.resolve(reference);
  const json::Value* identifier = reference.member("identifier");
  if (identifier == nullptr && found != nullptr) identifier = first(*found, "identifier");
  if (identifier != nullptr) {
    draft.putIdentifier(pointer + "/identifier", *identifier, place + ".identifier");
  }
  const std::string_view display = reference.text("display");
  draft.putText(pointer + "/name",
                found == nullptr || !display.empty() ? std::string(display) : spokenName(*found),
                place);
}

void putLink(Draft& draft, const Scope& scope, const json::Value& reference,
             const std::string& pointer, const std::string& place) {
  const json::Value* identifier = reference.member("identifier");
  const json::Value* found = scope.resolve(reference);
  if (identifier == nullptr && found != nullptr) identifier = first(*found, "identifier");
  if (identifier != nullptr) {
    draft.putIdentifier(pointer + "/identifier", *identifier, place + ".identifier");
  }
}

}  // namespace footbridge::fhir
