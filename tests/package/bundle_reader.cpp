#include "package/bundle_reader.hpp"

#include <algorithm>

#include "package/prepared.hpp"

namespace footbridge::test {
namespace {

/// The concept one of whose verified codings (or whose own code) the CodeableConcept has.
const Concept* conceptOf(const json::Value* codeable, const Tables& tables,
                         std::string_view prefix) {
  const json::Value* codings = codeable == nullptr ? nullptr : codeable->member("coding");
  if (codings == nullptr) return nullptr;
  const std::string_view own = ownCode(codeable, tables);
  if (!own.empty()) return tables.concept_(own);
  for (const Concept& row : tables.concepts) {
    if (!row.id.starts_with(prefix)) continue;
    for (const Coding& coding : row.codings) {
      for (const json::Value& sent : *codings->asArray()) {
        if (coding.verified && coding.system == sent.text("system") &&
            coding.code == sent.text("code")) {
          return &row;
        }
      }
    }
  }
  return nullptr;
}

Side sideOf(const json::Value& observation, const Tables& tables) {
  const Concept* site = conceptOf(observation.member("bodySite"), tables, "site-");
  if (site == nullptr) return Side::None;
  return site->id.ends_with("-left") ? Side::Left : Side::Right;
}

Comparator comparatorOf(std::string_view text) {
  for (std::size_t i = 0; i <= static_cast<std::size_t>(Comparator::Greater); ++i) {
    if (symbol(static_cast<Comparator>(i)) == text) return static_cast<Comparator>(i);
  }
  return Comparator::None;
}

bool saysIncompressible(const json::Value& observation, const Tables& tables) {
  const json::Value* interpretation = observation.member("interpretation");
  return interpretation != nullptr &&
         ownCode(&interpretation->asArray()->front(), tables) == "incompressible";
}

Pressure pressureOf(std::string_view digits) {
  const Decimal decimal = *Decimal::parse(digits);
  return {static_cast<std::int32_t>(Decimal{decimal.digits * 2, decimal.scale}.floor())};
}

void takeQuantity(const json::Value& observation, const json::Value& quantity, const ItemRow& row,
                  const Tables& tables, Reading& out) {
  const std::string& digits = quantity.member("value")->asNumber()->text;
  if (saysIncompressible(observation, tables)) {
    out.content = Incompressible{pressureOf(digits)};
    return;
  }
  out.comparator = comparatorOf(quantity.text("comparator"));
  if (row.kind == Kind::Pressure) {
    out.content = pressureOf(digits);
  } else {
    out.content = *Decimal::parse(digits);
  }
}

void takeConcept(const json::Value& value, const ItemRow& row, const Tables& tables, Reading& out) {
  const std::string_view code = ownCode(&value, tables);
  const WordList* list = tables.wordList(row.words);
  if (list == nullptr) {
    out.content = code == "no-signal" ? Content{NoSignal{}} : Content{Incompressible{}};
    return;
  }
  for (const WordRow& word : list->words) {
    if (word.concept_id == code) out.content = Word{word.word};
  }
}

void takeAbsence(const json::Value& reason, Reading& out) {
  const std::string_view code = reason.member("coding")->asArray()->front().text("code");
  for (std::size_t i = 0; i < absentReasons().size(); ++i) {
    if (absentReasons()[i].code == code) out.content = Absence{static_cast<AbsentReason>(i)};
  }
}

const ItemRow* itemOf(const json::Value& observation, const Tables& tables) {
  const std::string_view code = ownCode(observation.member("code"), tables);
  const auto found = std::find_if(
      tables.items.begin(), tables.items.end(),
      [code](const ItemRow& row) { return !row.concept_id.empty() && row.concept_id == code; });
  return found == tables.items.end() ? nullptr : &*found;
}

/// Which toe and which sensor travel as body site and method of the toe pressure.
void takeToe(const json::Value& observation, Side side, const Tables& tables, Assessment& out) {
  const auto add = [&](Item item, std::string_view text) {
    for (const WordRow& word : tables.wordList(tables.row(item).words)->words) {
      if (word.word == text) out.readings.push_back({item, side, Word{word.word}, {}, {}, {}});
    }
  };
  const Concept* site = conceptOf(observation.member("bodySite"), tables, "site-");
  if (site != nullptr) add(Item::ToeDigit, site->id.substr(5, site->id.find('-', 5) - 5));
  const Concept* method = conceptOf(observation.member("method"), tables, "method-");
  if (method != nullptr) add(Item::ToeSensor, method->id.substr(7));
}

}  // namespace

std::string_view ownCode(const json::Value* codeable, const Tables& tables) {
  const json::Value* codings = codeable == nullptr ? nullptr : codeable->member("coding");
  if (codings == nullptr) return {};
  for (const json::Value& coding : *codings->asArray()) {
    if (coding.text("system") == package::codeSystemUrl(tables)) return coding.text("code");
  }
  return {};
}

std::vector<const json::Value*> resources(const json::Value& bundle, std::string_view type) {
  std::vector<const json::Value*> out;
  for (const json::Value& entry : *bundle.member("entry")->asArray()) {
    const json::Value* resource = entry.member("resource");
    if (resource->text("resourceType") == type) out.push_back(resource);
  }
  return out;
}

Assessment readBundle(const json::Value& bundle, const Tables& tables) {
  Assessment out;
  for (const json::Value* observation : resources(bundle, "Observation")) {
    const ItemRow* row = itemOf(*observation, tables);
    if (row == nullptr) continue;
    Reading reading;
    reading.item = row->item;
    reading.side = row->sided ? sideOf(*observation, tables) : Side::None;
    if (const json::Value* quantity = observation->member("valueQuantity")) {
      takeQuantity(*observation, *quantity, *row, tables, reading);
    } else if (const json::Value* codeable = observation->member("valueCodeableConcept")) {
      takeConcept(*codeable, *row, tables, reading);
    } else {
      takeAbsence(*observation->member("dataAbsentReason"), reading);
    }
    if (isPrevious(row->item)) out.previousOn = parseDate(observation->text("effectiveDateTime"));
    if (row->item == Item::ToePressure) takeToe(*observation, reading.side, tables, out);
    out.readings.push_back(std::move(reading));
  }
  sortReadings(out);
  return out;
}

}  // namespace footbridge::test
