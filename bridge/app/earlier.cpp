#include "app/earlier.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <fstream>
#include <system_error>

#include "core/text.hpp"
#include "intake/texts.hpp"
#include "package/markup.hpp"
#include "package/prepared.hpp"

namespace footbridge::app {
namespace {

/// Everything that an index is called: as such, and of one side.
std::vector<std::string> conceptsOf(const IndexRow& row) {
  return {row.concept_id, row.concept_by_side[0], row.concept_by_side[1]};
}

std::string conditionOf(std::string_view system, std::string_view value) {
  return package::searchValue(system) + "%7C" + package::searchValue(value);
}

/// All that a concept goes by: verified standard codings, and ours.
std::vector<std::string> codesOf(const Concept& row, const Tables& tables) {
  std::vector<std::string> out;
  for (const Coding& coding : row.codings) {
    if (coding.verified) out.push_back(conditionOf(coding.system, coding.code));
  }
  if (row.local) out.push_back(conditionOf(package::codeSystemUrl(tables), row.id));
  return out;
}

/// Figures of a bundle belong to whoever is its subject; a patient in the bundle is known by the
/// identifiers there, since a record server refers to it by an id of its own.
class Subjects {
 public:
  explicit Subjects(const json::Array& entries) {
    for (const json::Value& entry : entries) {
      const json::Value* resource = entry.member("resource");
      if (resource == nullptr || resource->text("resourceType") != "Patient") continue;
      std::vector<std::string> conditions;
      for (const json::Value& identifier : resource->list("identifier")) {
        conditions.push_back(conditionOf(identifier.text("system"), identifier.text("value")));
      }
      patients_.emplace(entry.text("fullUrl"), conditions);
      patients_.emplace("Patient/" + std::string(resource->text("id")), conditions);
    }
  }

  std::vector<std::string> of(const json::Value& resource) const {
    const json::Value* subject = resource.member("subject");
    if (subject == nullptr) return {};
    if (const json::Value* identifier = subject->member("identifier")) {
      return {conditionOf(identifier->text("system"), identifier->text("value"))};
    }
    constexpr std::string_view kSearch = "Patient?identifier=";
    const std::string_view reference = subject->text("reference");
    if (reference.starts_with(kSearch)) return {std::string(reference.substr(kSearch.size()))};
    const auto found = patients_.find(std::string(reference));
    return found == patients_.end() ? std::vector<std::string>{} : found->second;
  }

 private:
  std::map<std::string, std::vector<std::string>> patients_;
};

/// Only what was signed off counts.
bool settled(std::string_view status) {
  return status == "final" || status == "amended" || status == "corrected";
}

Issue unusable(const std::string& name, std::string text) {
  return {Severity::Warning,
          IssueType::Incomplete,
          "previous-bundle",
          name,
          std::move(text),
          "Give bundles as `convert` writes them, or with the patient in the same bundle."};
}

}  // namespace

/// Of one day the figure that is given last counts: a correction follows what it corrects.
void Earlier::put(Visit& visit, const Figure& figure) {
  std::erase_if(visit.figures, [&](const Figure& other) {
    return other.item == figure.item && other.side == figure.side;
  });
  visit.figures.push_back(figure);
}

Earlier::Earlier(const Tables& tables) : tables_(tables) {
  const std::array<std::pair<Item, std::vector<std::string>>, 3> measures{
      {{Item::PreviousAbi, conceptsOf(tables.row(IndexKind::Abi))},
       {Item::PreviousTbi, conceptsOf(tables.row(IndexKind::Tbi))},
       {Item::PreviousToePressure, {tables.row(Item::ToePressure).concept_id}}}};
  for (const auto& [item, concepts] : measures) {
    for (const std::string& id : concepts) {
      const Concept* row = tables.concept_(id);
      if (row == nullptr) continue;
      for (std::string& code : codesOf(*row, tables)) items_.emplace(std::move(code), item);
    }
  }
  for (const Concept& row : tables.concepts) {
    const bool right = row.id.ends_with("-right");
    if (!row.id.starts_with("site-") || !(right || row.id.ends_with("-left"))) continue;
    for (const std::string& code : codesOf(row, tables)) {
      sides_[code].insert(right ? Side::Right : Side::Left);
    }
  }
}

Issues Earlier::read(const std::string& path) {
  std::error_code ignored;
  std::ifstream file;
  errno = EISDIR;
  if (!std::filesystem::is_directory(path, ignored)) file.open(path, std::ios::binary);
  if (!file.is_open()) {
    return {{Severity::Error, IssueType::NotFound, "previous-file", path,
             "The earlier bundles cannot be read: " + std::generic_category().message(errno) + ".",
             "Check that the path is right and that this user may read it."}};
  }
  Issues issues;
  const bool lines = path.ends_with(".ndjson") || path.ends_with(".jsonl");
  intake::Texts texts(file, path, lines ? intake::Layout::Lines : intake::Layout::Detect);
  while (const std::optional<intake::Text> text = texts.next()) {
    append(issues, text->issues);
    if (!text->issues.empty()) continue;
    const Result<json::Value> bundle = json::read(text->bytes);
    if (bundle) {
      take(*bundle, text->name, issues);
    } else {
      issues.push_back(unusable(text->name, bundle.issues().front().text));
    }
  }
  return issues;
}

void Earlier::take(const json::Value& bundle, const std::string& name, Issues& issues) {
  if (bundle.text("resourceType") != "Bundle") {
    issues.push_back(unusable(name, "This is no FHIR Bundle."));
    return;
  }
  const json::Array& entries = bundle.list("entry");
  const Subjects subjects(entries);
  std::size_t taken = 0;
  for (const json::Value& entry : entries) {
    const json::Value* resource = entry.member("resource");
    if (resource == nullptr || resource->text("resourceType") != "Observation") continue;
    const std::optional<Figure> figure = figureOf(*resource);
    const std::optional<Instant> when = parseInstant(resource->text("effectiveDateTime"));
    if (!figure || !when) continue;
    const Date day = localDate(*when);
    for (const std::string& patient : subjects.of(*resource)) {
      std::vector<Visit>& visits = visits_[patient];
      const auto same = std::find_if(visits.begin(), visits.end(),
                                     [&](const Visit& visit) { return visit.day == day; });
      put(same == visits.end() ? visits.emplace_back(Visit{day, {}}) : *same, *figure);
      ++taken;
    }
  }
  if (taken == 0) {
    issues.push_back(unusable(
        name, "No signed-off index or toe pressure of a patient with identifier was found."));
  }
}

std::optional<Item> Earlier::itemOf(const json::Value& code) const {
  for (const json::Value& coding : code.list("coding")) {
    const auto found = items_.find(conditionOf(coding.text("system"), coding.text("code")));
    if (found != items_.end()) return found->second;
  }
  return std::nullopt;
}

Side Earlier::sideOf(const json::Value& site) const {
  std::set<Side> sides;
  for (const json::Value& coding : site.list("coding")) {
    const auto found = sides_.find(conditionOf(coding.text("system"), coding.text("code")));
    if (found != sides_.end()) sides.insert(found->second.begin(), found->second.end());
  }
  return sides.size() == 1 ? *sides.begin() : Side::None;
}

std::optional<Earlier::Figure> Earlier::figureOf(const json::Value& observation) const {
  const json::Value* code = observation.member("code");
  const json::Value* site = observation.member("bodySite");
  const json::Value* quantity = observation.member("valueQuantity");
  if (code == nullptr || site == nullptr || quantity == nullptr) return std::nullopt;
  if (!settled(observation.text("status")) || !quantity->text("comparator").empty()) {
    return std::nullopt;
  }
  const std::optional<Item> item = itemOf(*code);
  const json::Value* number = quantity->member("value");
  if (!item || number == nullptr || number->asNumber() == nullptr) return std::nullopt;
  const std::optional<Decimal> value = Decimal::parse(number->asNumber()->text);
  const Side side = sideOf(*site);
  if (!value || side == Side::None) return std::nullopt;
  if (quantity->text("code") != tables_.row(*item).unit) return std::nullopt;
  const json::Array& identifiers = observation.list("identifier");
  const std::string_view from =
      identifiers.empty() ? observation.text("id") : identifiers.front().text("value");
  return Figure{*item, side, *value, std::string(from)};
}

void Earlier::complete(Assessment& assessment, Issues& issues) const {
  const bool own = std::any_of(assessment.readings.begin(), assessment.readings.end(),
                               [](const Reading& reading) { return isPrevious(reading.item); });
  if (own || assessment.previousOn) return;
  const Date today = localDate(assessment.measuredAt);
  const Visit* latest = nullptr;
  for (const Identifier& identifier : assessment.patient.identifiers) {
    const auto found = visits_.find(conditionOf(identifier.system, identifier.value));
    if (found == visits_.end()) continue;
    for (const Visit& visit : found->second) {
      if (visit.day < today && (latest == nullptr || visit.day > latest->day)) latest = &visit;
    }
  }
  if (latest == nullptr) return;
  assessment.previousOn = latest->day;
  for (const Figure& figure : latest->figures) {
    const Decimal twice{figure.value.digits * 2, figure.value.scale};
    const bool pressure = tables_.row(figure.item).kind == Kind::Pressure;
    if (pressure && !twice.whole()) continue;
    Reading& reading = assessment.readings.emplace_back();
    reading.item = figure.item;
    reading.side = figure.side;
    reading.content = pressure ? Content{Pressure{static_cast<std::int32_t>(twice.floor())}}
                               : Content{figure.value};
    reading.note = "Taken from an earlier bundle, Observation " + figure.from + ".";
  }
  sortReadings(assessment);
  issues.push_back(
      issue(tables_.rule("previous-taken"), "/previous", {{"date", spoken(latest->day)}}));
}

}  // namespace footbridge::app
