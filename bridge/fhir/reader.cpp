#include "fhir/reader.hpp"

#include <utility>

#include "fhir/form.hpp"

namespace footbridge::fhir {
namespace {

constexpr std::string_view kForm = "QuestionnaireResponse";

std::string bytesOf(const json::Value& value, std::string_view text) {
  return std::string(text.substr(value.span.begin, value.span.end - value.span.begin));
}

intake::Text refusal(const intake::Text& from, Issues issues) {
  intake::Original original{from.name, {}, from.bytes, from.name, {}};
  original.wording = intake::Original::Wording::Sender;
  return {from.name, {}, std::move(issues), std::move(original)};
}

intake::Text nothing(const intake::Text& from, std::string_view type, const Tables& tables) {
  return refusal(from, {issue(tables.rule("fhir-resource"), "resourceType",
                              {{"value", printable(shortened(type, 60))}})});
}

void addForms(const json::Value& bundle, const intake::Text& from, const Names& names,
              std::vector<intake::Text>& out) {
  const json::Array& entries = bundle.list("entry");
  for (std::size_t i = 0; i < entries.size(); ++i) {
    const json::Value* resource = entries[i].member("resource");
    if (resource == nullptr || resource->text("resourceType") != kForm) continue;
    Draft draft(names.tables());
    readForm(draft, {*resource, &bundle}, names);
    out.push_back(
        draft.text(from.name + " entry " + std::to_string(i), bytesOf(*resource, from.bytes)));
    out.back().original->input = from.name;
  }
}

}  // namespace

std::vector<intake::Text> textsOf(intake::Text from, const Names& names) {
  if (blocking(from.issues)) return {refusal(from, std::move(from.issues))};
  const Result<json::Value> read = json::read(from.bytes);
  if (!read) return {refusal(from, read.issues())};
  const std::string_view type = read->text("resourceType");
  std::vector<intake::Text> out;
  if (type == kForm) {
    Draft draft(names.tables());
    readForm(draft, {*read, nullptr}, names);
    out.push_back(draft.text(from.name, from.bytes));
  }
  if (type == "Bundle") addForms(*read, from, names, out);
  if (out.empty()) out.push_back(nothing(from, type, names.tables()));
  return out;
}

void forEachText(intake::Texts& resources, const Names& names,
                 const std::function<void(intake::Text)>& take) {
  while (std::optional<intake::Text> resource = resources.next()) {
    for (intake::Text& text : textsOf(*std::move(resource), names)) take(std::move(text));
  }
}

}  // namespace footbridge::fhir
