#include "csv/known.hpp"

#include <algorithm>

#include "csv/places.hpp"

namespace footbridge::csv {
namespace {

using json::Number;
using json::Object;
using json::Value;

std::string dotted(std::string_view pointer) {
  std::string out(pointer.substr(1));
  std::replace(out.begin(), out.end(), '/', '.');
  return out;
}

class Known {
 public:
  Known(const Tables& tables, const Spelling& spell)
      : tables_(tables), spell_(spell), own_(ownSystem(tables)), places_(tables) {
    for (const ItemRow& row : tables.items) {
      if (const Concept* found = tables.concept_(row.concept_id)) countCodes(*found);
    }
    for (const ItemRow& row : tables.items) add(row);
  }

  std::map<std::string, Target, std::less<>> readings;

 private:
  std::string keyOf(const Coding& coding) const {
    return coding.verified ? spell_(coding.system, coding.code) : std::string{};
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
    name(spell_(own_, dotted(row.path)), row.path);
    for (const Side side : kSides) {
      const std::string path = tables_.place(row.item, side);
      if (row.sided) name(spell_(own_, dotted(path)), path);
    }
    const Concept* found = tables_.concept_(row.concept_id);
    if (found == nullptr) return;
    name(spell_(own_, found->id), row.path);
    for (const Coding& coding : found->codings) {
      const std::string key = keyOf(coding);
      if (!key.empty() && uses_[key] == 1) name(key, row.path);
    }
  }

  const Tables& tables_;
  const Spelling& spell_;
  std::string own_;
  Places places_;
  std::map<std::string, int> uses_;
};

/// The end of the gauge up to which an artery did not yield, where it is said; wide of all gauges.
constexpr int kLowestLimit = 150;
constexpr int kHighestLimit = 350;

}  // namespace

std::string ownSystem(const Tables& tables) {
  return tables.canonicalBase + "/fhir/CodeSystem/footbridge";
}

std::map<std::string, Target, std::less<>> knownReadings(const Tables& tables,
                                                         const Spelling& spell) {
  return std::move(Known(tables, spell).readings);
}

void addKnownWords(Words& words, const Tables& tables) {
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
    for (std::int32_t grade = scale.lowest; grade <= scale.highest; ++grade) {
      const std::string digits = std::to_string(grade);
      words.emplace(folded("grade:" + digits + ":" + scale.id),
                    Value(Object{{"grade", Value(Number{digits})}, {"scale", Value(scale.id)}}));
    }
  }
}

}  // namespace footbridge::csv
