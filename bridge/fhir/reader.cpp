#include "fhir/reader.hpp"

#include <utility>

#include "fhir/excerpt.hpp"
#include "fhir/form.hpp"
#include "fhir/results.hpp"

namespace footbridge::fhir {
namespace {

constexpr std::string_view kForm = "QuestionnaireResponse";
constexpr std::string_view kReport = "DiagnosticReport";

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

void addForms(const json::Value& root, const Entries& entries, const intake::Text& from,
              const Names& names, std::vector<intake::Text>& out) {
  for (const Entry& entry : entriesOf(root, kForm)) {
    Draft draft(names.tables(), names.codes().map());
    readForm(draft, {*entry.resource, &entries, entry.container}, names);
    out.push_back(draft.text(from.name + " " + entry.place, bytesOf(*entry.resource, from.bytes)));
    out.back().original->input = from.name;
  }
}

void addResults(const json::Value& root, const Entries& entries, const intake::Text& from,
                const Names& names, std::vector<intake::Text>& out) {
  const std::vector<Gathered> groups =
      gather(root, entries,
             [&names](const json::Value& observation) { return names.codes().knows(observation); });
  const bool alone = groups.size() == 1 && out.empty();
  for (const Gathered& group : groups) {
    intake::Text text = textOf(group, {root, entries, alone}, names);
    text.name = alone ? from.name : from.name + " " + text.original->place;
    text.original->input = from.name;
    text.original->wording = intake::Original::Wording::Sender;
    text.original->rows = alone ? from.bytes : excerpt(root, group, entries, from.bytes);
    out.push_back(std::move(text));
  }
}

/// Kinds of bundles that say what was, or what was answered, and not what is to be taken.
bool isAnswer(std::string_view type) { return type == "history" || type.ends_with("-response"); }

/// What was deleted is not withdrawn by that: nobody says whose it was.
void noteDeletions(const json::Value& root, const Tables& tables,
                   std::vector<intake::Text>& texts) {
  std::size_t number = 0;
  for (const json::Value& entry : root.list("entry")) {
    const json::Value* request = entry.member("request");
    const bool deletes = request != nullptr && request->text("method") == "DELETE";
    const std::string place = "entry " + std::to_string(number++);
    if (!deletes || texts.empty()) continue;
    texts.front().issues.push_back(issue(tables.rule("fhir-deletion"), place));
  }
}

void addBundle(const json::Value& root, const intake::Text& from, const Names& names,
               std::vector<intake::Text>& out) {
  const std::string_view type = root.text("type");
  const Entries entries(root);
  addForms(root, entries, from, names, out);
  if (isAnswer(type)) {
    if (!out.empty()) return;
    return out.push_back(refusal(
        from, {issue(names.tables().rule("fhir-bundle-type"), "Bundle type", {{"value", type}})}));
  }
  addResults(root, entries, from, names, out);
  noteDeletions(root, names.tables(), out);
}

/// A report that contains its results, as the bundle that it might have come in.
void addReport(const json::Value& report, const intake::Text& from, const Names& names,
               std::vector<intake::Text>& out) {
  json::Value entry(json::Object{{"resource", report}});
  entry.span = report.span;
  const json::Value root(json::Object{{"entry", json::Value(json::Array{std::move(entry)})}});
  addResults(root, Entries(root), from, names, out);
}

}  // namespace

std::vector<intake::Text> textsOf(intake::Text from, const Names& names) {
  if (blocking(from.issues)) return {refusal(from, std::move(from.issues))};
  const Result<json::Value> read = json::read(from.bytes);
  if (!read) return {refusal(from, read.issues())};
  const std::string_view type = read->text("resourceType");
  std::vector<intake::Text> out;
  if (type == kForm) {
    Draft draft(names.tables(), names.codes().map());
    readForm(draft, {*read}, names);
    out.push_back(draft.text(from.name, from.bytes));
  }
  if (type == "Bundle") addBundle(*read, from, names, out);
  if (type == kReport) addReport(*read, from, names, out);
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
