// rule_sets, compression, clti, rutherford, wifi: the published classes.

#include <algorithm>
#include <array>

#include "tables/fields.hpp"

namespace footbridge::tables {
namespace {

/// A part without source or certainty of its own has those of the row it belongs to.
Source inherit(Source own, const Source& parent) {
  if (own.text.empty()) own.text = parent.text;
  if (own.certainty.empty()) own.certainty = parent.certainty;
  return own;
}

Band readBand(Fields row, const Source& parent) {
  Band out;
  out.id = row.text("id");
  out.from = row.bound("from");
  out.to = row.bound("to");
  out.outcome = row.optionalText("outcome");
  out.wording = row.text("wording");
  out.source = inherit(row.source(Fields::Demand::Optional), parent);
  for (const json::Value& element : row.list("edges")) {
    Fields edge = row.inner(element, "edge");
    const std::optional<std::int32_t> at = edge.bound("at");
    if (!at) edge.fault("at", "is missing");
    out.edges.emplace(at.value_or(0), edge.text("remark"));
  }
  return out;
}

std::vector<Band> readScale(Fields& row, std::string_view member, const Source& parent) {
  std::vector<Band> out;
  for (const json::Value& element : row.list(member)) {
    out.push_back(readBand(row.inner(element, member), parent));
  }
  return out;
}

RuleSet readRuleSet(Fields row) {
  RuleSet out;
  out.id = row.text("id");
  out.name = row.text("name");
  out.region = row.text("region");
  out.source = row.source();
  out.abi = readScale(row, "abi", out.source);
  out.tbi = readScale(row, "tbi", out.source);
  return out;
}

Threshold readThreshold(Fields row, const Source& parent) {
  Threshold out;
  out.measure = row.text("measure");
  out.below = row.bound("below");
  out.atMost = row.bound("atMost");
  const json::Array& range = row.list("range");
  if (range.size() == 2 && range[0].asNumber() != nullptr && range[1].asNumber() != nullptr) {
    out.rangeFrom = static_cast<std::int32_t>(Decimal::parse(range[0].asNumber()->text)->floor());
    out.rangeTo = static_cast<std::int32_t>(Decimal::parse(range[1].asNumber()->text)->floor());
  }
  if (!out.below && !out.atMost && !out.rangeFrom)
    row.fault("below", "or atMost or range is missing");
  out.source = inherit(row.source(Fields::Demand::Optional), parent);
  return out;
}

CltiDefinition readDefinition(Fields row, std::string_view scheme) {
  CltiDefinition out;
  out.id = row.text("id");
  out.scheme = scheme;
  out.join = row.flag("joinNotStated") ? Join::NotStated : Join::Any;
  out.name = row.text("name");
  out.condition = row.text("condition");
  out.durationDays = row.optionalWhole("durationDays");
  out.durationStrict = row.flag("durationStrict");
  out.source = row.source();
  static constexpr std::array<std::string_view, 3> kConditions{"any", "rest-pain", "tissue-loss"};
  if (std::find(kConditions.begin(), kConditions.end(), out.condition) == kConditions.end()) {
    row.fault("condition", "is none of any, rest-pain and tissue-loss");
  }
  for (const json::Value& element : row.list("thresholds")) {
    Threshold threshold = readThreshold(row.inner(element, "threshold"), out.source);
    const bool again =
        std::any_of(out.thresholds.begin(), out.thresholds.end(),
                    [&](const Threshold& other) { return other.measure == threshold.measure; });
    if (again) row.fault("thresholds", "asks for a measure twice");
    out.thresholds.push_back(std::move(threshold));
  }
  return out;
}

WoundRow readWound(Fields row) {
  return {row.text("id"),           row.optionalText("depth"),
          row.optionalText("site"), row.optionalText("gangrene"),
          row.whole("grade"),       row.source()};
}

IschaemiaRow readIschaemia(Fields row) {
  return {row.text("id"),    row.text("measure"), row.whole("grade"),
          row.bound("from"), row.bound("to"),     row.source()};
}

void readCell(Fields row, const Source& parent, WifiTables& wifi) {
  const std::int32_t at = 16 * row.whole("w") + 4 * row.whole("i") + row.whole("fi");
  if (at < 0 || at > 63) return row.fault("w", "or i or fi is outside 0 to 3");
  WifiCell& cell = wifi.cells[static_cast<std::size_t>(at)];
  cell.stage = row.whole("stage");
  cell.outcome = {row.text("risk"), row.text("benefit")};
  cell.source = inherit(row.source(Fields::Demand::Optional), parent);
}

WifiTables readWifi(const json::Value& file, Issues& issues) {
  Fields head(file, "wifi.json", issues);
  WifiTables out;
  out.source = head.source();
  if (const json::Value* infection = head.member("infection")) {
    out.infectionSource = head.inner(*infection, "infection").source();
  }
  for (const json::Value& row : head.list("wound")) {
    out.wound.push_back(readWound(head.inner(row, "wound")));
  }
  for (const json::Value& row : head.list("ischaemia")) {
    out.ischaemia.push_back(readIschaemia(head.inner(row, "ischaemia")));
  }
  for (const json::Value& row : head.list("cells"))
    readCell(head.inner(row, "cell"), out.source, out);
  return out;
}

void loadRuleSets(const Files& files, std::string_view name, std::vector<RuleSet>& out,
                  Issues& issues) {
  const json::Value file = parseFile(files, name, issues);
  for (const json::Value& row : Fields(file, std::string(name), issues).list("rows")) {
    const std::string label = std::string(name) + " " + std::string(row.text("id"));
    out.push_back(readRuleSet({row, label, issues}));
  }
}

void loadDefinitions(const Files& files, std::string_view name, std::string_view scheme,
                     Tables& tables, Issues& issues) {
  const json::Value file = parseFile(files, name, issues);
  for (const json::Value& row : Fields(file, std::string(name), issues).list("rows")) {
    const std::string label = std::string(name) + " " + std::string(row.text("id"));
    tables.clti.push_back(readDefinition({row, label, issues}, scheme));
  }
}

}  // namespace

void loadSchemes(const Files& files, Tables& tables, Issues& issues) {
  loadRuleSets(files, "rule_sets.json", tables.ruleSets, issues);
  loadRuleSets(files, "compression.json", tables.compression, issues);
  loadDefinitions(files, "clti.json", "clti-criterion", tables, issues);
  loadDefinitions(files, "rutherford.json", "rutherford-criterion", tables, issues);
  tables.wifi = readWifi(parseFile(files, "wifi.json", issues), issues);
}

}  // namespace footbridge::tables
