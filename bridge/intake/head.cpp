#include "intake/head.hpp"

#include <algorithm>
#include <limits>

namespace footbridge::intake {
namespace {

constexpr std::string_view kFormat = "footbridge-assessment-1";

using Names = std::array<std::string, 2>;

bool absolute(std::string_view system) {
  const bool known =
      system.starts_with("http://") || system.starts_with("https://") || system.starts_with("urn:");
  return known && system.find_first_of(" \t\r\n<>\"") == std::string_view::npos;
}

/// Identifier values are kept as they stand, spaces too: validation says what is wrong with them.
std::optional<std::string> identifierValue(const Node& node) {
  const std::optional<std::string> text = node.text(200);
  return text ? std::optional{*node.value().asString()} : std::nullopt;
}

std::optional<Identifier> readIdentifier(const Node& node) {
  static const Names kNames{"system", "value"};
  if (!node.isObject()) return std::nullopt;
  node.onlyMembers(kNames);
  const std::optional<Node> system = node.child("system");
  const std::optional<Node> value = node.child("value");
  const std::optional<std::string> systemText = system ? system->text(200) : std::nullopt;
  const std::optional<std::string> valueText = value ? identifierValue(*value) : std::nullopt;
  if (!systemText || !valueText) return std::nullopt;
  if (!absolute(*systemText)) {
    system->remarkNamed("intake-system", "value", *systemText);
    return std::nullopt;
  }
  return Identifier{*systemText, *valueText};
}

void takeText(const Node& parent, std::string_view name, std::string& out,
              std::size_t limit = 1000) {
  const std::optional<Node> node = parent.find(name);
  if (node) out = node->text(limit).value_or("");
}

void takeIdentifiers(const Node& node, std::vector<Identifier>& out) {
  if (!node.isList()) return;
  const json::Array& list = *node.value().asArray();
  for (std::size_t i = 0; i < list.size(); ++i) {
    std::optional<Identifier> identifier = readIdentifier(node.element(list[i], i));
    if (identifier) out.push_back(*std::move(identifier));
  }
  if (list.empty()) node.remarkNamed("intake-required");
}

void takeGiven(const Node& node, std::vector<std::string>& out) {
  if (!node.isList()) return;
  const json::Array& list = *node.value().asArray();
  for (std::size_t i = 0; i < list.size(); ++i) {
    std::optional<std::string> name = node.element(list[i], i).text(200);
    if (name) out.push_back(*std::move(name));
  }
}

void takeGender(const Node& node, std::string& out) {
  static constexpr std::array<std::string_view, 4> kGenders{"female", "male", "other", "unknown"};
  const std::optional<std::string> text = node.text(40);
  if (!text) return;
  if (std::find(kGenders.begin(), kGenders.end(), *text) != kGenders.end()) {
    out = *text;
  } else {
    node.remark("intake-word",
                {{"value", *text}, {"label", "gender"}, {"words", "female, male, other, unknown"}});
  }
}

void readPatient(const Node& node, Patient& out) {
  static const std::array<std::string, 5> kNames{"identifiers", "family", "given", "birthDate",
                                                 "gender"};
  if (!node.isObject()) return;
  node.onlyMembers(kNames);
  if (const auto identifiers = node.child("identifiers"))
    takeIdentifiers(*identifiers, out.identifiers);
  takeText(node, "family", out.family, 200);
  if (const auto given = node.find("given")) takeGiven(*given, out.given);
  if (const auto birth = node.find("birthDate")) out.birthDate = birth->date();
  if (const auto gender = node.find("gender")) takeGender(*gender, out.gender);
}

/// Identifier or name, or both.
void readParty(const Node& node, Party& out, std::string* role) {
  static const std::array<std::string, 3> kNames{"identifier", "name", "role"};
  if (!node.isObject()) return;
  node.onlyMembers(std::span(kNames).first(role == nullptr ? 2 : 3));
  if (const auto identifier = node.find("identifier")) out.identifier = readIdentifier(*identifier);
  takeText(node, "name", out.name, 200);
  if (role != nullptr) takeText(node, "role", *role, 200);
  if (node.find("identifier") || node.find("name")) return;
  node.remark("intake-required", {{"label", "identifier or name"}});
}

/// {"identifier": {...}} of an encounter or an order.
std::optional<Identifier> readLink(const Node& node) {
  static const std::array<std::string, 1> kNames{"identifier"};
  if (!node.isObject()) return std::nullopt;
  node.onlyMembers(kNames);
  const std::optional<Node> identifier = node.child("identifier");
  return identifier ? readIdentifier(*identifier) : std::nullopt;
}

void takeKind(const Node& node, Instrument& out) {
  const std::optional<std::string> text = node.text(40);
  if (!text) return;
  const std::vector<WordRow>& words = node.context().tables.wordList("instrument")->words;
  const auto found = std::find_if(words.begin(), words.end(),
                                  [&](const WordRow& word) { return word.word == *text; });
  if (found != words.end()) {
    out.kind = found->word;
    return;
  }
  std::string known;
  for (const WordRow& word : words) known += (known.empty() ? "" : ", ") + word.word;
  node.remark("intake-word", {{"value", *text}, {"label", "kind of instrument"}, {"words", known}});
}

void readInstrument(const Node& node, std::vector<Instrument>& out) {
  static const std::array<std::string, 5> kNames{"kind", "manufacturer", "model", "serial",
                                                 "calibratedOn"};
  if (!node.isObject()) return;
  node.onlyMembers(kNames);
  Instrument instrument;
  if (const auto kind = node.child("kind")) takeKind(*kind, instrument);
  takeText(node, "manufacturer", instrument.manufacturer, 200);
  takeText(node, "model", instrument.model, 200);
  takeText(node, "serial", instrument.serial, 200);
  if (const auto date = node.find("calibratedOn")) instrument.calibratedOn = date->date();
  if (!instrument.kind.empty()) out.push_back(std::move(instrument));
}

void readInstruments(const Node& node, std::vector<Instrument>& out) {
  if (!node.isList()) return;
  const json::Array& list = *node.value().asArray();
  for (std::size_t i = 0; i < list.size(); ++i) readInstrument(node.element(list[i], i), out);
}

void readFormat(const Node& node) {
  const std::optional<std::string> text = node.text(100);
  if (text && *text != kFormat) node.remark("intake-format");
}

void readStatus(const Node& node, Status& out) {
  const std::optional<std::string> text = node.text(40);
  if (!text) return;
  for (const Status status :
       {Status::Preliminary, Status::Final, Status::Corrected, Status::EnteredInError}) {
    if (word(status) != *text) continue;
    out = status;
    return;
  }
  node.remark("intake-word", {{"value", *text},
                              {"label", "status"},
                              {"words", "preliminary, final, corrected, entered-in-error"}});
}

}  // namespace

const std::array<std::string, 14>& headMembers() {
  static const std::array<std::string, 14> kMembers{
      "format",    "identifier",   "revision",  "status", "measuredAt",  "issuedAt", "patient",
      "performer", "organization", "encounter", "order",  "instruments", "note",     "replaces"};
  return kMembers;
}

void readHead(const Node& root, Assessment& out) {
  if (const auto node = root.child("format")) readFormat(*node);
  if (const auto node = root.child("identifier")) {
    out.identifier = readIdentifier(*node).value_or(Identifier{});
  }
  // Messages and tables make revisions of moments: seconds since 2020.
  constexpr std::int32_t kMost = std::numeric_limits<std::int32_t>::max();
  if (const auto node = root.find("revision")) out.revision = node->wholeFrom(1, kMost).value_or(1);
  if (const auto node = root.child("status")) readStatus(*node, out.status);
  if (const auto node = root.child("measuredAt"))
    out.measuredAt = node->instant().value_or(Instant{});
  if (const auto node = root.find("issuedAt")) out.issuedAt = node->instant();
  if (const auto node = root.child("patient")) readPatient(*node, out.patient);
  if (const auto node = root.child("performer"))
    readParty(*node, out.performer, &out.performerRole);
  if (const auto node = root.child("organization")) readParty(*node, out.organization, nullptr);
  if (const auto node = root.find("encounter")) out.encounter = readLink(*node);
  if (const auto node = root.find("order")) out.order = readLink(*node);
  if (const auto node = root.find("replaces")) out.replaces = readIdentifier(*node);
  if (const auto node = root.find("instruments")) readInstruments(*node, out.instruments);
  takeText(root, "note", out.note, 10'000);
}

}  // namespace footbridge::intake
