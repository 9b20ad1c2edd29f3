#include "fhir/quantity.hpp"

namespace footbridge::fhir {

std::string unitOf(const json::Value& quantity) {
  const std::string_view code = quantity.text("code");
  const bool coded = !code.empty() && quantity.text("system") == "http://unitsofmeasure.org";
  const std::string_view unit = coded ? code : quantity.text("unit");
  return std::string(unit == "mmHg" ? "mm[Hg]" : unit);
}

void putQuantity(Draft& draft, const std::string& pointer, const json::Value& quantity,
                 const ItemRow& row, const std::string& place) {
  const json::Value* value = quantity.member("value");
  if (value == nullptr) return draft.remark("fhir-value-missing", place);
  const std::string unit = unitOf(quantity);
  // An index is a plain number, and many write none for its unit.
  if (unit.empty() && row.unit != "1") {
    return draft.remark("fhir-unit-missing", place, {{"label", row.label}});
  }
  draft.put(pointer + "/value", *value, place);
  if (!unit.empty() && unit != row.unit) draft.putText(pointer + "/unit", unit, place);
  draft.putText(pointer + "/comparator", quantity.text("comparator"), place);
}

}  // namespace footbridge::fhir
