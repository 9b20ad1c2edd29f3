#include "hl7/settings.hpp"

#include <algorithm>
#include <array>
#include <map>

#include "csv/places.hpp"
#include "hl7/er7.hpp"

namespace footbridge::hl7 {
namespace {

using csv::folded;
using csv::Target;
using json::Number;
using json::Object;
using json::Value;

std::string dotted(std::string_view pointer) {
  std::string out(pointer.substr(1));
  std::replace(out.begin(), out.end(), '/', '.');
  return out;
}

/// Names by which readings are known, before those of the sender are put over them.
class Names {
 public:
  explicit Names(const Tables& tables) : tables_(tables), places_(tables) {
    for (const ItemRow& row : tables.items) {
      if (const Concept* found = tables.concept_(row.concept_id)) countCodes(*found);
    }
    for (const ItemRow& row : tables.items) add(row);
  }

  std::map<std::string, Target, std::less<>> readings;

 private:
  static std::string keyOf(const Coding& coding) {
    if (!coding.verified) return {};
    if (coding.system == "http://loinc.org") return coding.code + "^ln";
    return coding.system == "http://snomed.info/sct" ? coding.code + "^sct" : std::string{};
  }

  void countCodes(const Concept& found) {
    for (const Coding& coding : found.codings) ++uses_[keyOf(coding)];
  }

  void name(const std::string& key, const std::string& pointer) {
    if (const std::optional<Target> target = places_.find(dotted(pointer))) {
      readings.emplace(folded(key), *target);
    }
  }

  void add(const ItemRow& row) {
    const std::string own = "^" + std::string(kOwnCodes);
    name(dotted(row.path) + own, row.path);
    for (const Side side : kSides) {
      if (row.sided)
        name(dotted(tables_.place(row.item, side)) + own, tables_.place(row.item, side));
    }
    const Concept* found = tables_.concept_(row.concept_id);
    if (found == nullptr) return;
    name(found->id + own, row.path);
    for (const Coding& coding : found->codings) {
      const std::string key = keyOf(coding);
      if (!key.empty() && uses_[key] == 1) name(key, row.path);
    }
  }

  const Tables& tables_;
  csv::Places places_;
  std::map<std::string, int> uses_;
};

/// The end of the gauge up to which an artery did not yield, where it is said; wide of all gauges.
constexpr int kLowestLimit = 150;
constexpr int kHighestLimit = 350;

void addWords(csv::Words& words, const Tables& tables) {
  for (const AbsentReasonRow& reason : absentReasons()) {
    words.emplace("absent:" + std::string(reason.code),
                  Value(Object{{"absent", Value(std::string(reason.code))}}));
  }
  for (int limit = kLowestLimit; limit <= kHighestLimit; ++limit) {
    const std::string digits = std::to_string(limit);
    words.emplace("incompressible:" + digits,
                  Value(Object{{"finding", Value(std::string("incompressible"))},
                               {"limit", Value(Number{digits})}}));
  }
  for (const PulseScale& scale : tables.pulseScales) {
    for (const auto& [grade, ignored] : scale.meaning) {
      const std::string digits = std::to_string(grade);
      words.emplace(folded("grade:" + digits + ":" + scale.id),
                    Value(Object{{"grade", Value(Number{digits})}, {"scale", Value(scale.id)}}));
    }
  }
}

}  // namespace

Settings settingsOf(const csv::SourceMap* map, const Tables& tables) {
  Settings out;
  if (map != nullptr) out.map = *map;
  if (!out.map.messages) out.map.messages.emplace();
  out.map.rows = csv::RowMeaning::Reading;
  out.map.readings.merge(Names(tables).readings);
  addWords(out.map.words, tables);
  return out;
}

std::optional<std::string> systemOf(std::string_view authority, char mark,
                                    std::string_view fallback, const csv::SourceMap& map) {
  const std::string_view space = part(authority, mark, 1);
  const std::string_view id = part(authority, mark, 2);
  const std::string_view type = part(authority, mark, 3);
  const auto& known = map.messages->authorities;
  for (const std::string_view name : {space, id}) {
    const auto found = known.find(name);
    if (!name.empty() && found != known.end()) return found->second;
  }
  if (!id.empty() && type == "ISO") return "urn:oid:" + std::string(id);
  if (!id.empty() && type == "UUID") return "urn:uuid:" + std::string(id);
  if (!id.empty() && type == "URI") return std::string(id);
  if (!space.empty() || !id.empty() || map.base.empty()) return std::nullopt;
  return map.base + std::string(fallback);
}

}  // namespace footbridge::hl7
