#include "csv/source_map.hpp"

#include <algorithm>
#include <array>

#include "csv/map_nodes.hpp"
#include "csv/tree.hpp"
#include "intake/assessment_reader.hpp"
#include "json/toml.hpp"
#include "json/writer.hpp"

namespace footbridge::csv {
namespace {

using intake::Node;

constexpr std::string_view kFormat = "footbridge-source-map-1";

const std::array<std::string, 10>& mapMembers() {
  static const std::array<std::string, 10> kMembers{
      "format", "name", "base", "file", "defaults", "columns", "words", "reading", "hl7", "fhir"};
  return kMembers;
}

const std::array<std::string, 9>& fileMembers() {
  static const std::array<std::string, 9> kMembers{
      "delimiter", "encoding", "rows", "decimal", "date", "zone", "overlap", "time", "identify"};
  return kMembers;
}

/// What may be stated once for all rows. Never a reading of a limb: what a row does not say stays
/// unsaid.
const std::array<std::string, 6>& defaultMembers() {
  static const std::array<std::string, 6> kMembers{"status",      "performer",  "organization",
                                                   "instruments", "conditions", "note"};
  return kMembers;
}

/// The value at a pointer or the nearest one above it.
const json::Value& at(const json::Value& root, std::string_view pointer) {
  const json::Value* out = &root;
  while (!pointer.empty() && out->asObject() != nullptr) {
    const auto found = std::find_if(
        out->asObject()->begin(), out->asObject()->end(), [pointer](const json::Member& member) {
          const std::string step = json::child("", member.first);
          return pointer.starts_with(step) &&
                 (pointer.size() == step.size() || pointer[step.size()] == '/');
        });
    if (found == out->asObject()->end()) break;
    pointer.remove_prefix(json::child("", found->first).size());
    if (found->second.span.begin > 0) out = &found->second;
  }
  return *out;
}

/// "/columns/R DP/unit" as "line 14, columns R DP unit".
std::string placed(const json::Value& root, const std::string& pointer) {
  const std::size_t line = at(root, pointer).span.begin;
  std::string names;
  for (std::size_t i = 0; i < pointer.size(); ++i) {
    if (pointer[i] == '/') {
      names += names.empty() ? "" : " ";
    } else if (pointer.substr(i, 2) == "~1") {
      names += '/';
      ++i;
    } else {
      names += pointer[i];
    }
  }
  return "line " + std::to_string(std::max<std::size_t>(line, 1)) +
         (names.empty() ? "" : ", " + names);
}

void takeFile(const Node& node, SourceMap& out) {
  static constexpr std::array<std::pair<std::string_view, char>, 3> kDelimiters{
      {{",", ','}, {";", ';'}, {"tab", '\t'}}};
  static constexpr std::array<std::pair<std::string_view, Encoding>, 2> kEncodings{
      {{"utf-8", Encoding::Utf8}, {"windows-1252", Encoding::Windows1252}}};
  static constexpr std::array<std::pair<std::string_view, RowMeaning>, 2> kRows{
      {{"assessment", RowMeaning::Assessment}, {"reading", RowMeaning::Reading}}};
  static constexpr std::array<std::pair<std::string_view, Decimals>, 2> kDecimals{
      {{".", Decimals::Point}, {",", Decimals::Comma}}};
  static constexpr std::array<std::pair<std::string_view, Overlap>, 3> kOverlaps{
      {{"refuse", Overlap::Refuse}, {"earlier", Overlap::Earlier}, {"later", Overlap::Later}}};
  static constexpr std::array<std::pair<std::string_view, Identify>, 2> kIdentify{
      {{"column", Identify::Column}, {"patient-and-time", Identify::PatientAndTime}}};
  if (!node.isObject()) return;
  node.onlyMembers(fileMembers());
  out.delimiter = choice<char>(node, "delimiter", kDelimiters).value_or(',');
  out.encoding = choice<Encoding>(node, "encoding", kEncodings).value_or(Encoding::Utf8);
  out.rows = choice<RowMeaning>(node, "rows", kRows).value_or(RowMeaning::Assessment);
  out.decimals = choice<Decimals>(node, "decimal", kDecimals).value_or(Decimals::Point);
  out.overlap = choice<Overlap>(node, "overlap", kOverlaps).value_or(Overlap::Refuse);
  out.identify = choice<Identify>(node, "identify", kIdentify).value_or(Identify::Column);
  out.date = readPattern(node);
  if (const auto zone = node.find("zone")) {
    out.zoneName = zone->text(100).value_or("");
    out.zone = Zone::named(out.zoneName);
    if (!out.zone && !out.zoneName.empty()) zone->remark("csv-map-zone", {{"value", out.zoneName}});
  }
  if (const auto time = node.find("time")) {
    const std::optional<std::string> text = time->text(40);
    out.time = text ? readTime(*text) : std::nullopt;
    if (text && !out.time) time->remark("csv-time", {{"value", *text}});
  }
}

bool hasColumn(const SourceMap& map, std::string_view start) {
  return std::any_of(map.columns.begin(), map.columns.end(), [start](const Column& column) {
    return column.target.pointer.starts_with(start);
  });
}

/// Reads the defaults as if a row had said all the rest, and keeps what is remarked on them.
void takeDefaults(const Node& node, SourceMap& out, Issues& issues) {
  if (!node.isObject()) return;
  node.onlyMembers(defaultMembers());
  out.defaults = node.value();
  json::Value whole =
      *json::read(R"({"format":"footbridge-assessment-1","measuredAt":"2000-01-01T00:00:00Z",)"
                  R"("identifier":{"system":"urn:x","value":"x"},)"
                  R"("patient":{"identifiers":[{"system":"urn:x","value":"x"}]}})");
  auto& members = std::get<json::Object>(whole.content());
  for (const json::Member& member : *node.value().asObject()) members.push_back(member);
  // The role may be stated for all while the rows name the person.
  const json::Value* performer = whole.member("performer");
  const bool roleOnly = performer != nullptr && performer->member("role") != nullptr;
  if (roleOnly && (!out.ofTables() || hasColumn(out, "/performer")))
    putAt(whole, "/performer/name", json::Value(std::string("x")));
  std::string text;
  json::appendValue(text, whole);
  const intake::AssessmentReader reader(node.context().tables);
  for (Issue& issue : reader.read(text).issues) {
    const bool ours =
        std::any_of(defaultMembers().begin(), defaultMembers().end(), [&](const std::string& name) {
          return issue.place.starts_with("/" + name) && node.value().member(name) != nullptr;
        });
    issue.place.insert(0, "/defaults");
    if (ours) issues.push_back(std::move(issue));
  }
}

bool mayRepeat(const Target& target) {
  return target.role == Role::Ignore || target.path == "patient.identifiers" ||
         target.path == "patient.given" || target.path == "note";
}

void takeColumn(const Node& node, const std::string& name, const Places& places, SourceMap& out) {
  std::optional<Target> target = readTarget(node, places, out);
  if (!target) return;
  if (target->pointer.find("{side}") != std::string::npos) {
    node.remark("csv-map-side", {{"path", target->path}});
  }
  for (const Column& other : out.columns) {
    const bool sameName = other.name == squeezed(name);
    if (sameName || (other.target.path == target->path && !mayRepeat(*target))) {
      node.remark("csv-map-twice", {{"value", sameName ? other.name : target->path}});
    }
  }
  out.columns.push_back({squeezed(name), *std::move(target)});
}

void takeReadings(const Node& node, const Places& places, SourceMap& out) {
  static const std::array<std::string, 2> kMembers{"items", "sides"};
  static constexpr std::array<std::string_view, 2> kSideWords{"right", "left"};
  if (!node.isObject()) return;
  node.onlyMembers(kMembers);
  const std::optional<Node> items = node.find("items");
  if (items && items->isObject()) {
    for (const auto& [name, ignored] : *items->value().asObject()) {
      const Node item = *items->find(name);
      std::optional<Target> target = readTarget(item, places, out);
      if (!target) continue;
      const bool fits = target->role == Role::Reading || target->role == Role::Ignore;
      if (!fits) item.remark("csv-map-option", {{"option", "reading"}, {"path", target->path}});
      if (!out.readings.emplace(folded(name), *std::move(target)).second) {
        item.remark("csv-map-twice", {{"value", name}});
      }
    }
  }
  const std::optional<Node> sides = node.find("sides");
  if (!sides) return;
  for (const auto& [word, meaning] : readWords(*sides, std::nullopt, kSideWords)) {
    const std::string* side = meaning.asString();
    if (side != nullptr) out.sides[word] = *side == "right" ? Side::Right : Side::Left;
  }
}

Revisions takeRevisions(const Node& node) {
  static constexpr std::array<std::pair<std::string_view, Revisions>, 2> kRevisions{
      {{"corrections", Revisions::Corrections}, {"by-time", Revisions::ByTime}}};
  return choice<Revisions>(node, "revisions", kRevisions).value_or(Revisions::Corrections);
}

/// What [fhir] says; its being there makes the map one of Observations.
void takeResources(const Node& node, SourceMap& out) {
  static const std::array<std::string, 1> kMembers{"revisions"};
  if (!node.isObject()) return;
  node.onlyMembers(kMembers);
  out.resources.emplace().revisions = takeRevisions(node);
  if (out.identify == Identify::PatientAndTime && out.base.empty()) {
    node.remark("csv-map-base", {{"path", "identify"}});
  }
  if (out.messages)
    node.remark("csv-map-option", {{"option", "fhir"}, {"path", "a map with [hl7]"}});
}

/// What [hl7] says; its being there makes the map one of messages.
void takeMessages(const Node& node, SourceMap& out) {
  static const std::array<std::string, 3> kMembers{"authorities", "charset", "revisions"};
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 3> kCharsets{
      {{"ASCII", "ASCII"}, {"UNICODE UTF-8", "UNICODE UTF-8"}, {"8859/1", "8859/1"}}};
  if (!node.isObject()) return;
  Messages& messages = out.messages.emplace();
  node.onlyMembers(kMembers);
  messages.charset = choice<std::string_view>(node, "charset", kCharsets).value_or("ASCII");
  messages.revisions = takeRevisions(node);
  const std::optional<Node> authorities = node.find("authorities");
  if (!authorities || !authorities->isObject()) return;
  for (const auto& [name, ignored] : *authorities->value().asObject()) {
    messages.authorities[name] = authorities->find(name)->text(200).value_or("");
  }
}

void takeColumns(const Node& root, const Places& places, SourceMap& out) {
  const std::optional<Node> columns = out.ofTables() ? root.child("columns") : root.find("columns");
  if (!columns || !columns->isObject()) return;
  if (!out.ofTables()) {
    const std::string_view kind = out.messages ? "a map with [hl7]" : "a map with [fhir]";
    columns->remark("csv-map-option", {{"option", "columns"}, {"path", kind}});
    return;
  }
  for (const auto& [name, ignored] : *columns->value().asObject()) {
    takeColumn(*columns->find(name), name, places, out);
  }
}

/// What an assessment cannot do without, and what the parts of a map ask of each other.
void checkWhole(const Node& root, const SourceMap& map) {
  const auto need = [&root](bool there, std::string_view what, std::string_view how) {
    if (!there) root.remark("csv-map-needs", {{"what", what}, {"how", how}});
  };
  const auto stated = [&map](std::string_view name) {
    return map.defaults.member(name) != nullptr;
  };
  need(hasColumn(map, "/identifier") || map.identify == Identify::PatientAndTime,
       "what identifies the assessment",
       "give a column to \"identifier\", or write identify = \"patient-and-time\" in [file]");
  need(map.identify == Identify::Column || !map.base.empty(),
       "to which system the identifiers made of patient and time belong",
       "write base = \"https://...\", an address of the clinic's own, at the top");
  need(hasColumn(map, "/patient/identifiers"), "what identifies the patient",
       "give a column to \"patient.identifiers\"");
  need(hasColumn(map, "/status") || stated("status"), "the status",
       "give a column to \"status\", or write status in [defaults]");
  need(hasColumn(map, "/performer") || stated("performer"), "who measured",
       "give a column to \"performer.name\", or write performer in [defaults]");
  need(hasColumn(map, "/organization") || stated("organization"),
       "for which organisation it was measured",
       "give a column to \"organization.name\", or write organization in [defaults]");
  const bool moment = map.find(Role::Moment) != nullptr || map.find(Role::MomentDay) != nullptr;
  need(hasColumn(map, "/measuredAt") && moment, "when it was measured",
       "give a column to \"measuredAt\", or one each to \"measuredAt.date\" and "
       "\"measuredAt.time\"");
  need(map.find(Role::MomentDay) == nullptr || map.find(Role::MomentTime) != nullptr || map.time,
       "the time of day",
       "give a column to \"measuredAt.time\", or state one for all rows with time in [file]");
  need(map.find(Role::MomentDay) == nullptr || !map.zoneName.empty(),
       "by whose clock the times are", "write zone in [file], such as zone = \"Europe/London\"");
  if (map.rows != RowMeaning::Reading) return;
  need(map.find(Role::ItemName) != nullptr, "which reading a row holds",
       "give a column to \"reading.item\"");
  need(map.find(Role::ItemValue) != nullptr, "what the reading of a row is",
       "give a column to \"reading.value\"");
  need(!map.readings.empty(), "what the readings are called", "list them in [reading.items]");
}

void takeMap(const Node& root, const Tables& tables, SourceMap& out, Issues& issues) {
  root.onlyMembers(mapMembers());
  if (const auto format = root.child("format")) {
    const std::optional<std::string> text = format->text(100);
    if (text && *text != kFormat) format->remark("csv-map-format");
  }
  if (const auto name = root.find("name")) out.name = name->text(200).value_or("");
  if (const auto base = root.find("base")) out.base = base->text(200).value_or("");
  if (const auto file = root.find("file")) takeFile(*file, out);
  if (const auto words = root.find("words")) out.words = readWords(*words, std::nullopt, {});
  const Places places(tables);
  if (const auto messages = root.find("hl7")) takeMessages(*messages, out);
  if (const auto resources = root.find("fhir")) takeResources(*resources, out);
  takeColumns(root, places, out);
  if (const auto readings = root.find("reading")) takeReadings(*readings, places, out);
  if (const auto defaults = root.find("defaults")) takeDefaults(*defaults, out, issues);
  if (out.ofTables()) checkWhole(root, out);
}

}  // namespace

const Column* SourceMap::find(Role role) const {
  const auto found = std::find_if(columns.begin(), columns.end(), [role](const Column& column) {
    return column.target.role == role;
  });
  return found == columns.end() ? nullptr : &*found;
}

std::string squeezed(std::string_view text) {
  std::string out;
  for (const char c : trimmed(text)) {
    const bool blank = c == ' ' || c == '\t' || c == '\n' || c == '\r';
    if (!blank) {
      out += c;
    } else if (!out.ends_with(' ')) {
      out += ' ';
    }
  }
  return out;
}

std::string folded(std::string_view text) {
  std::string out = squeezed(text);
  for (char& c : out) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
  return out;
}

Result<SourceMap> loadSourceMap(std::string_view toml, const Tables& tables) {
  Result<json::Value> tree = json::readToml(toml);
  if (!tree) return std::move(tree).issues();
  SourceMap out;
  Issues issues;
  takeMap(Node({tables, issues}, *tree), tables, out, issues);
  for (Issue& issue : issues) issue.place = placed(*tree, issue.place);
  if (blocking(issues)) return issues;
  return out;
}

}  // namespace footbridge::csv
