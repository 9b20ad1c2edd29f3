#include "csv/map_nodes.hpp"

#include <algorithm>
#include <array>

#include "intake/reading.hpp"

namespace footbridge::csv {
namespace {

using intake::Node;

const std::array<std::string, 6>& targetMembers() {
  static const std::array<std::string, 6> kMembers{"to",     "unit", "scale",
                                                   "system", "date", "words"};
  return kMembers;
}

/// True if some item has this word.
bool anyItemHas(const Tables& tables, std::string_view word) {
  return std::any_of(tables.wordLists.begin(), tables.wordLists.end(),
                     [word](const WordList& list) {
                       return std::any_of(list.words.begin(), list.words.end(),
                                          [word](const WordRow& row) { return row.word == word; });
                     });
}

/// A word for all columns: it must mean something at some item. Readings in full are held against
/// an item of the kind that takes them.
void checkForAny(const Node& node) {
  const Tables& tables = node.context().tables;
  if (const std::string* text = node.value().asString()) {
    if (!anyItemHas(tables, *text)) {
      node.remark("csv-map-word", {{"value", shortened(*text, 60)}});
    }
    return;
  }
  const bool graded = node.value().member("grade") != nullptr;
  intake::readReading(node, tables.row(graded ? Item::PulseFemoral : Item::AnkleDorsalisPedis),
                      Side::Right);
}

void checkAllowed(const Node& node, std::span<const std::string_view> allowed) {
  const std::optional<std::string> text = node.text(100);
  if (!text || std::find(allowed.begin(), allowed.end(), *text) != allowed.end()) return;
  std::string known;
  for (const std::string_view word : allowed)
    known += (known.empty() ? "" : ", ") + std::string(word);
  node.remark("intake-word", {{"value", *text}, {"label", "this column"}, {"words", known}});
}

void takeUnit(const Node& node, Target& out) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 2> kUnits{
      {{"mmHg", ""}, {"kPa", "kPa"}}};
  const std::optional<Node> unit = node.find("unit");
  if (!unit) return;
  const bool pressure = out.item && node.context().tables.row(*out.item).kind == Kind::Pressure &&
                        out.role == Role::Reading;
  if (!pressure) {
    unit->remark("csv-map-option", {{"option", "unit"}, {"path", out.path}});
    return;
  }
  out.unit = choice<std::string_view>(node, "unit", kUnits).value_or("");
}

void takeScale(const Node& node, Target& out) {
  const std::optional<Node> scale = node.find("scale");
  if (!scale) return;
  const Tables& tables = node.context().tables;
  const std::optional<std::string> text = scale->text(40);
  if (!text) return;
  if (!out.item || tables.row(*out.item).kind != Kind::Pulse || out.role != Role::Reading) {
    scale->remark("csv-map-option", {{"option", "scale"}, {"path", out.path}});
  } else if (tables.pulseScale(*text) == nullptr) {
    scale->remark("pulse-scale-unknown", {{"reading", out.path}});
  }
  out.scale = *text;
}

void takeSystem(const Node& node, Target& out, const SourceMap& map) {
  const std::optional<Node> system = node.find("system");
  if (out.role != Role::Identifier) {
    if (system) system->remark("csv-map-option", {{"option", "system"}, {"path", out.path}});
    return;
  }
  out.system =
      system ? system->text(200).value_or("") : map.base + std::string(systemBelow(out.pointer));
  if (!system && map.base.empty()) node.remark("csv-map-base", {{"path", out.path}});
}

void takeDate(const Node& node, Target& out, const SourceMap& map) {
  const bool dated =
      out.role == Role::Day || out.role == Role::Moment || out.role == Role::MomentDay;
  const std::optional<Node> date = node.find("date");
  if (!dated) {
    if (date) date->remark("csv-map-option", {{"option", "date"}, {"path", out.path}});
    return;
  }
  out.date = date ? readPattern(node) : map.date;
  if (!date && !map.date) node.remark("csv-map-no-date", {{"path", out.path}});
  if (out.role == Role::Day && out.date && out.date->twoDigitYear()) {
    node.remark("csv-map-short-year", {{"value", out.date->text()}});
  }
}

}  // namespace

std::string_view systemBelow(std::string_view pointer) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 6> kBelow{
      {{"/identifier", "/assessments"},
       {"/patient/identifiers", "/patients"},
       {"/performer/identifier", "/staff"},
       {"/organization/identifier", "/sites"},
       {"/encounter/identifier", "/visits"},
       {"/order/identifier", "/orders"}}};
  const auto found = std::find_if(kBelow.begin(), kBelow.end(),
                                  [pointer](const auto& row) { return row.first == pointer; });
  return found == kBelow.end() ? std::string_view{} : found->second;
}

std::span<const std::string_view> allowedWords(std::string_view pointer) {
  static constexpr std::array<std::string_view, 4> kGenders{"female", "male", "other", "unknown"};
  static constexpr std::array<std::string_view, 2> kStates{"final", "preliminary"};
  if (pointer == "/patient/gender") return kGenders;
  if (pointer == "/status") return kStates;
  return {};
}

std::optional<DatePattern> readPattern(const Node& parent) {
  const std::optional<Node> node = parent.find("date");
  const std::optional<std::string> text = node ? node->text(40) : std::nullopt;
  std::optional<DatePattern> out = text ? DatePattern::of(*text) : std::nullopt;
  if (text && !out) node->remark("csv-map-pattern", {{"value", *text}});
  return out;
}

Words readWords(const Node& node, std::optional<Item> item,
                std::span<const std::string_view> allowed) {
  Words out;
  if (!node.isObject()) return out;
  for (const auto& [word, meaning] : *node.value().asObject()) {
    const Node entry = *node.find(word);
    const std::string* text = meaning.asString();
    const bool nothing = text != nullptr && text->empty();
    if (!out.emplace(folded(word), meaning).second) {
      entry.remark("csv-map-twice", {{"value", word}});
    } else if (!allowed.empty()) {
      checkAllowed(entry, allowed);
    } else if (item && !nothing) {
      intake::readReading(entry, node.context().tables.row(*item), Side::Right);
    } else if (!nothing) {
      checkForAny(entry);
    }
  }
  return out;
}

std::optional<Target> readTarget(const Node& node, const Places& places, const SourceMap& map) {
  const bool whole = node.value().asObject() != nullptr;
  if (whole) node.onlyMembers(targetMembers());
  const std::optional<Node> to = whole ? node.child("to") : std::optional{node};
  const std::optional<std::string> path = to ? to->text(200) : std::nullopt;
  if (!path) return std::nullopt;
  std::optional<Target> out = places.find(*path);
  if (!out) {
    const std::string_view close = places.nearestTo(*path);
    to->remark("csv-map-path",
               {{"value", shortened(*path, 60)},
                {"hint", close.empty() ? "Write a field of docs/input.md with dots, or \"ignore\"."
                                       : "Did you mean \"" + std::string(close) + "\"?"}});
    return std::nullopt;
  }
  takeUnit(node, *out);
  takeScale(node, *out);
  takeSystem(node, *out, map);
  takeDate(node, *out, map);
  if (const auto words = node.find("words")) {
    const bool worded = out->role == Role::Reading || out->role == Role::Word;
    if (!worded) words->remark("csv-map-option", {{"option", "words"}, {"path", out->path}});
    if (worded) out->words = readWords(*words, out->item, allowedWords(out->pointer));
  }
  return out;
}

}  // namespace footbridge::csv
