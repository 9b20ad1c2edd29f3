#include "fhir/entries.hpp"

#include <charconv>
#include <optional>

#include "core/text.hpp"

namespace footbridge::fhir {
namespace {

/// A query with its escapes undone; nothing if it is none, or of more than one parameter.
std::optional<std::string> unescaped(std::string_view query) {
  std::string out;
  for (std::size_t i = 0; i < query.size(); ++i) {
    if (query[i] == '&') return std::nullopt;
    if (query[i] != '%') {
      out += query[i];
      continue;
    }
    unsigned byte = 0;
    const char* digits = query.data() + i + 1;
    if (i + 2 >= query.size()) return std::nullopt;
    const auto read = std::from_chars(digits, digits + 2, byte, 16);
    if (read.ptr != digits + 2 || byte == 0) return std::nullopt;
    out += static_cast<char>(byte);
    i += 2;
  }
  return validUtf8(out) ? std::optional(out) : std::nullopt;
}

}  // namespace

std::string tokenOf(const json::Value& identifier) {
  const std::string_view value = identifier.text("value");
  if (value.empty()) return {};
  return std::string(identifier.text("system")) + "|" + std::string(value);
}

json::Value searchedBy(const json::Value& reference) {
  constexpr std::string_view kSearch = "?identifier=";
  const std::string_view to = reference.text("reference");
  const std::size_t at = to.find(kSearch);
  if (at == std::string_view::npos) return {};
  const std::optional<std::string> token = unescaped(to.substr(at + kSearch.size()));
  const std::size_t bar = token ? token->rfind('|') : std::string::npos;
  if (bar == std::string::npos) return {};
  return json::Value(json::Object{{"system", json::Value(token->substr(0, bar))},
                                  {"value", json::Value(token->substr(bar + 1))}});
}

Entries::Entries(const json::Value& bundle) {
  for (const json::Value& entry : bundle.list("entry")) {
    const json::Value* resource = entry.member("resource");
    if (resource == nullptr) continue;
    const std::string_view type = resource->text("resourceType");
    const std::string_view id = resource->text("id");
    entries_.emplace(resource, &entry);
    byName_.emplace(entry.text("fullUrl"), resource);
    if (!id.empty()) byName_.emplace(std::string(type) + "/" + std::string(id), resource);
    for (const json::Value& each : resource->list("contained")) {
      contained_.emplace(std::pair{resource, each.text("id")}, &each);
    }
    if (type != "Patient") continue;
    for (const json::Value& identifier : resource->list("identifier")) {
      patients_.emplace(tokenOf(identifier), resource);
    }
  }
  for (const json::Value& entry : bundle.list("entry")) {
    const json::Value* resource = entry.member("resource");
    if (resource == nullptr || resource->text("resourceType") != "Provenance") continue;
    for (const json::Value& target : resource->list("target")) {
      provenances_.emplace(find(target.text("reference")), resource);
    }
  }
}

const json::Value* Entries::entryOf(const json::Value& resource) const {
  const auto found = entries_.find(&resource);
  return found == entries_.end() ? nullptr : found->second;
}

const json::Value* Entries::provenanceOf(const json::Value& resource) const {
  const auto found = provenances_.find(&resource);
  return found == provenances_.end() ? nullptr : found->second;
}

const json::Value* Entries::find(std::string_view reference) const {
  reference = reference.substr(0, reference.find("/_history/"));
  if (reference.empty()) return nullptr;
  const auto found = byName_.find(reference);
  return found == byName_.end() ? nullptr : found->second;
}

const json::Value* Entries::contained(const json::Value& outer, std::string_view id) const {
  const auto found = contained_.find(std::pair{&outer, id});
  return found == contained_.end() ? nullptr : found->second;
}

const json::Value* Entries::patientOf(const json::Value& identifier) const {
  const std::string token = tokenOf(identifier);
  const auto found = patients_.find(token);
  return token.empty() || found == patients_.end() ? nullptr : found->second;
}

std::vector<Entry> entriesOf(const json::Value& bundle, std::string_view type) {
  std::vector<Entry> out;
  const json::Array& entries = bundle.list("entry");
  for (std::size_t i = 0; i < entries.size(); ++i) {
    const json::Value* resource = entries[i].member("resource");
    if (resource == nullptr) continue;
    const std::string place = "entry " + std::to_string(i);
    if (resource->text("resourceType") == type) out.push_back({resource, i, nullptr, place});
    if (resource->text("resourceType") != "DiagnosticReport") continue;
    const json::Array& contained = resource->list("contained");
    for (std::size_t k = 0; k < contained.size(); ++k) {
      if (contained[k].text("resourceType") != type) continue;
      out.push_back({&contained[k], i, resource, place + " contained " + std::to_string(k)});
    }
  }
  return out;
}

}  // namespace footbridge::fhir
