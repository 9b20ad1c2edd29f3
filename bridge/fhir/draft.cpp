#include "fhir/draft.hpp"

#include <utility>

#include "csv/map_nodes.hpp"
#include "csv/tree.hpp"
#include "json/writer.hpp"

namespace footbridge::fhir {

Draft::Draft(const Tables& tables, const csv::SourceMap& map)
    : tables_(tables), map_(map), root_(json::Object{}) {
  original_.place = "the whole";
  original_.wording = intake::Original::Wording::Sender;
}

void Draft::locate(std::string_view pointer, const std::string& place) {
  original_.places.emplace_back(pointer, place);
}

void Draft::put(std::string_view pointer, json::Value value, const std::string& place) {
  csv::putAt(root_, pointer, std::move(value));
  locate(pointer, place);
}

void Draft::putText(std::string_view pointer, std::string_view text, const std::string& place) {
  if (!text.empty()) put(pointer, json::Value(std::string(text)), place);
}

void Draft::append(std::string_view pointer, json::Value value, const std::string& place) {
  const std::size_t index = csv::appendAt(root_, pointer, std::move(value));
  locate(json::child(pointer, index), place);
}

void Draft::appendOnce(std::string_view pointer, json::Value value, const std::string& place) {
  std::string text;
  json::appendValue(text, value);
  if (once_.insert(std::string(pointer) + text).second) append(pointer, std::move(value), place);
}

json::Value Draft::identifierOf(std::string_view pointer, const json::Value& identifier) const {
  json::Object out;
  const bool named = identifier.member("system") != nullptr;
  if (!named && !map_.base.empty()) {
    out.emplace_back("system", json::Value(map_.base + std::string(csv::systemBelow(pointer))));
  }
  for (const std::string_view name : {"system", "value"}) {
    if (const json::Value* part = identifier.member(name)) out.emplace_back(name, *part);
  }
  return json::Value(std::move(out));
}

void Draft::putIdentifier(std::string_view pointer, const json::Value& identifier,
                          const std::string& place) {
  put(pointer, identifierOf(pointer, identifier), place);
}

void Draft::appendIdentifier(std::string_view pointer, const json::Value& identifier,
                             const std::string& place) {
  append(pointer, identifierOf(pointer, identifier), place);
}

void Draft::start(csv::Visit& visit) const {
  visit.start(root_, original_.places);
  for (const Issue& found : issues_) visit.refuse(found);
}

bool Draft::holds(std::string_view pointer) const {
  return csv::valueAt(root_, pointer) != nullptr;
}

void Draft::remark(std::string_view rule, std::string place, Arguments arguments) {
  // A resource as a whole has no place of its own, and "" would be taken for a JSON Pointer.
  if (place.empty()) place = original_.place;
  issues_.push_back(issue(tables_.rule(rule), std::move(place), arguments));
}

intake::Text Draft::text(const std::string& name, std::string raw) const {
  intake::Text out{name, {}, issues_, original_};
  json::Value root = root_;
  csv::putDefaults(root, map_);
  json::appendValue(out.bytes, root);
  out.original->input = name;
  out.original->rows = std::move(raw);
  return out;
}

}  // namespace footbridge::fhir
