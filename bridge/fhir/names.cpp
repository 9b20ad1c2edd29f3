#include "fhir/names.hpp"

#include <algorithm>
#include <array>

#include "csv/known.hpp"

namespace footbridge::fhir {
namespace {

std::string pathOf(std::string_view pointer) {
  std::string out(pointer.substr(1));
  std::replace(out.begin(), out.end(), '/', '.');
  return out;
}

constexpr std::array<std::string_view, 17> kTexts{"measuredAt",
                                                  "issuedAt",
                                                  "status",
                                                  "note",
                                                  "patient.family",
                                                  "patient.birthDate",
                                                  "patient.gender",
                                                  "performer.name",
                                                  "performer.role",
                                                  "performer.identifier.system",
                                                  "performer.identifier.value",
                                                  "organization.name",
                                                  "organization.identifier.system",
                                                  "organization.identifier.value",
                                                  "conditions.room",
                                                  "previous.measuredOn",
                                                  "replaces.system"};

/// Of each instrument, within its group.
constexpr std::array<std::string_view, 4> kOfInstruments{"instruments.manufacturer",
                                                         "instruments.model", "instruments.serial",
                                                         "instruments.calibratedOn"};

}  // namespace

std::string pointerOf(std::string_view path) {
  std::string out = "/" + std::string(path);
  std::replace(out.begin(), out.end(), '.', '/');
  return out;
}

Names::Names(const Tables& tables, const csv::SourceMap* map)
    : tables_(tables), codes_(map, tables) {
  for (const std::string_view text : kTexts) fields_[std::string(text)] = {Takes::Text};
  for (const std::string_view text : kOfInstruments) fields_[std::string(text)] = {Takes::Text};
  fields_["replaces.value"] = {Takes::Text};
  fields_["revision"] = {Takes::Number};
  fields_["patient.given"] = {Takes::Texts};
  fields_["instruments.kind"] = {Takes::Text, nullptr, tables.wordList("instrument")};
  for (const ItemRow& row : tables.items) {
    for (const Side side : kSides) {
      const std::string path = pathOf(tables.place(row.item, row.sided ? side : Side::None));
      fields_[path] = {Takes::Reading, &row, tables.wordList(row.words)};
      for (const std::string_view part : {".absent", ".note", ".finding", ".scale"}) {
        fields_[path + std::string(part)] = {Takes::Text};
      }
      for (const std::string_view part : {".limit", ".grade"}) {
        fields_[path + std::string(part)] = {Takes::Number};
      }
    }
  }
  for (const auto& [path, field] : fields_) all_.push_back(path);
}

const Field* Names::field(std::string_view path) const {
  const auto found = fields_.find(path);
  return found == fields_.end() ? nullptr : &found->second;
}

std::string_view Names::near(std::string_view path) const {
  return nearest(shortened(path, 80), all_);
}

bool bears(const Concept& known, const json::Value& coding, const Tables& tables) {
  const std::string_view system = coding.text("system");
  const std::string_view code = coding.text("code");
  if (known.local && system == csv::ownSystem(tables)) return code == known.id;
  return std::any_of(known.codings.begin(), known.codings.end(), [&](const Coding& one) {
    return one.verified && one.system == system && one.code == code;
  });
}

std::string_view meantWord(const json::Value& coding, const WordList& words, const Tables& tables) {
  if (coding.text("system").empty()) return {};
  std::string_view found;
  for (const WordRow& word : words.words) {
    if (!bears(*tables.concept_(word.concept_id), coding, tables)) continue;
    // A standard code that several words share stands for none of them.
    if (!found.empty()) return {};
    found = word.word;
  }
  return found;
}

std::string wordOf(const json::Value& coding, const WordList* words, const Tables& tables) {
  const std::string_view found = words == nullptr ? "" : meantWord(coding, *words, tables);
  if (!found.empty()) return std::string(found);
  const std::string_view code = coding.text("code");
  return std::string(code.empty() ? coding.text("display") : code);
}

std::string wordFor(bool yes, const WordList* words) {
  if (words == nullptr) return {};
  for (const std::string_view word :
       yes ? std::array{"yes", "present"} : std::array{"no", "absent"}) {
    const bool has = std::any_of(words->words.begin(), words->words.end(),
                                 [word](const WordRow& row) { return row.word == word; });
    if (has) return std::string(word);
  }
  return {};
}

}  // namespace footbridge::fhir
