#include "fhir/codes.hpp"

#include <algorithm>

#include "csv/known.hpp"
#include "fhir/names.hpp"

namespace footbridge::fhir {
namespace {

std::string tokenOf(std::string_view system, std::string_view code) {
  return std::string(system) + "|" + std::string(code);
}

std::string tokenOf(const json::Value& coding) {
  return tokenOf(coding.text("system"), coding.text("code"));
}

/// All that a concept goes by: verified standard codings, and ours.
std::vector<std::string> tokensOf(const Concept& row, const std::string& own) {
  std::vector<std::string> out;
  for (const Coding& coding : row.codings) {
    if (coding.verified) out.push_back(tokenOf(coding.system, coding.code));
  }
  if (row.local) out.push_back(tokenOf(own, row.id));
  return out;
}

/// "great" of "site-great-toe-right", "" of any other site.
std::string_view digitOf(std::string_view id, const Tables& tables) {
  for (const WordRow& row : tables.wordList("toe-digit")->words) {
    if (id.starts_with("site-" + row.word + "-toe-")) return row.word;
  }
  return {};
}

const json::Array& codingsOf(const json::Value* codeable) {
  static const json::Array kNone;
  return codeable == nullptr ? kNone : codeable->list("coding");
}

}  // namespace

std::vector<std::string> callsOf(const json::Value* codeable) {
  std::vector<std::string> out;
  const auto add = [&out](std::string call) {
    if (!call.empty() && call != "|") out.push_back(std::move(call));
  };
  for (const json::Value& coding : codingsOf(codeable)) {
    if (!coding.text("code").empty()) add(tokenOf(coding));
  }
  for (const std::string_view part : {"code", "display"}) {
    for (const json::Value& coding : codingsOf(codeable)) add(std::string(coding.text(part)));
  }
  if (codeable != nullptr) add(std::string(codeable->text("text")));
  return out;
}

Codes::Codes(const csv::SourceMap* map, const Tables& tables)
    : tables_(tables), own_(csv::ownSystem(tables)) {
  if (map != nullptr) map_ = *map;
  if (!map_.resources) map_.resources.emplace();
  map_.rows = csv::RowMeaning::Reading;
  map_.readings.merge(csv::knownReadings(
      tables,
      [](std::string_view system, std::string_view code) { return tokenOf(system, code); }));
  csv::addKnownWords(map_.words, tables);
  // How a grade is told in a record where the scale does not say what it means.
  for (const PulseScale& scale : tables.pulseScales) {
    for (std::int32_t grade = scale.lowest; grade <= scale.highest; ++grade) {
      const json::Number digits{std::to_string(grade)};
      map_.words.emplace(csv::folded("grade " + digits.text + " on the scale " + scale.name),
                         json::Value(json::Object{{"grade", json::Value(digits)},
                                                  {"scale", json::Value(scale.id)}}));
    }
  }
  learnSites();
  learnComputed();
}

void Codes::learnSites() {
  for (const Concept& row : tables_.concepts) {
    const bool right = row.id.ends_with("-right");
    const bool sided = row.id.starts_with("site-") || row.id.starts_with("side-");
    if (!sided || !(right || row.id.ends_with("-left"))) continue;
    const std::string_view digit = digitOf(row.id, tables_);
    for (const std::string& token : tokensOf(row, own_)) {
      sides_[token].insert(right ? Side::Right : Side::Left);
      if (!digit.empty()) digits_.emplace(token, digit);
    }
  }
}

void Codes::learnComputed() {
  const auto learn = [this](std::string_view id) {
    const Concept* row = tables_.concept_(id);
    if (row == nullptr) return;
    for (std::string& token : tokensOf(*row, own_)) computed_.insert(std::move(token));
  };
  for (const IndexRow& row : tables_.indices) {
    learn(row.concept_id);
    for (const std::string& id : row.concept_by_side) learn(id);
  }
  for (const Concept& row : tables_.concepts) {
    if (row.local) computed_.insert(tokenOf(own_, row.id));
  }
}

Meaning Codes::reading(const json::Value* code, const json::Value* site) const {
  const std::vector<std::string> calls = callsOf(code);
  const auto known = [this](const std::string& name) {
    const auto found = map_.readings.find(csv::folded(name));
    return found == map_.readings.end() ? nullptr : &found->second;
  };
  for (const std::string& call : calls) {
    for (const std::string& at : callsOf(site)) {
      std::string both = call;
      (both += " at ") += at;
      if (const csv::Target* target = known(both)) return {both, target};
    }
  }
  for (const std::string& call : calls) {
    if (const csv::Target* target = known(call)) return {call, target};
  }
  return {calls.empty() ? std::string{} : calls.front(), nullptr};
}

bool Codes::knows(const json::Value& observation) const {
  const json::Value* site = observation.member("bodySite");
  const auto wanted = [&](const json::Value& part) {
    const csv::Target* target = reading(part.member("code"), site).target;
    return target != nullptr && target->role != csv::Role::Ignore;
  };
  const json::Array& components = observation.list("component");
  return wanted(observation) || std::any_of(components.begin(), components.end(), wanted) ||
         bears(observation.member("code"), "arm-pressure-panel");
}

Meaning Codes::own(std::string_view conceptId) const {
  const std::string name = tokenOf(own_, conceptId);
  const auto found = map_.readings.find(csv::folded(name));
  return {name, found == map_.readings.end() ? nullptr : &found->second};
}

Meaning Codes::own(const ItemRow& row, std::string_view side) const {
  std::string path = fill(row.path.substr(1), {{"side", side}});
  std::replace(path.begin(), path.end(), '/', '.');
  return own(path);
}

bool Codes::computed(const json::Value* code) const {
  const json::Array& codings = codingsOf(code);
  return std::any_of(codings.begin(), codings.end(), [this](const json::Value& coding) {
    return computed_.contains(tokenOf(coding));
  });
}

std::optional<Side> Codes::sideOf(const json::Value& coding) const {
  const auto found = sides_.find(tokenOf(coding));
  if (found == sides_.end() || found->second.size() != 1) return std::nullopt;
  return *found->second.begin();
}

std::string Codes::side(const json::Value* site) const {
  std::set<Side> sides;
  for (const json::Value& coding : codingsOf(site)) {
    if (const auto side = sideOf(coding)) sides.insert(*side);
  }
  const std::vector<std::string> calls = callsOf(site);
  for (const std::string& call : calls) {
    const auto said = map_.sides.find(csv::folded(call));
    if (said != map_.sides.end()) sides.insert(said->second);
    for (const Side side : kSides) {
      if (csv::folded(call) == footbridge::word(side)) sides.insert(side);
    }
  }
  if (sides.size() == 1) return std::string(footbridge::word(*sides.begin()));
  if (sides.size() > 1) return "right and left";
  return calls.empty() ? std::string{} : calls.front();
}

std::string_view Codes::toe(const json::Value* site) const {
  for (const json::Value& coding : codingsOf(site)) {
    const auto found = digits_.find(tokenOf(coding));
    if (found != digits_.end()) return found->second;
  }
  return {};
}

bool Codes::bears(const json::Value* codeable, std::string_view conceptId) const {
  const Concept* row = tables_.concept_(conceptId);
  const json::Array& codings = codingsOf(codeable);
  return row != nullptr &&
         std::any_of(codings.begin(), codings.end(),
                     [&](const json::Value& coding) { return fhir::bears(*row, coding, tables_); });
}

std::string Codes::word(const json::Value* codeable, std::string_view list) const {
  const WordList* words = tables_.wordList(list);
  if (words == nullptr) return {};
  for (const json::Value& coding : codingsOf(codeable)) {
    const std::string_view word = meantWord(coding, *words, tables_);
    if (!word.empty()) return std::string(word);
  }
  return {};
}

}  // namespace footbridge::fhir
