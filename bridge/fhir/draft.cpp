#include "fhir/draft.hpp"

#include <utility>

#include "csv/tree.hpp"
#include "json/writer.hpp"

namespace footbridge::fhir {

Draft::Draft(const Tables& tables) : tables_(tables), root_(json::Object{}) {
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
  json::appendValue(out.bytes, root_);
  out.original->input = name;
  out.original->rows = std::move(raw);
  return out;
}

}  // namespace footbridge::fhir
