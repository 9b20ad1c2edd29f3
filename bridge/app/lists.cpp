#include <ostream>

#include "app/commands.hpp"
#include "core/text.hpp"
#include "json/writer.hpp"
#include "model/findings.hpp"
#include "package/bundle.hpp"

namespace footbridge::app {
namespace {

std::string bounds(const Band& band) {
  const std::string from = hundredthsText(band.from.value_or(0));
  return band.to ? from + " to " + hundredthsText(*band.to) : from + " and above";
}

void printBands(std::ostream& out, std::string_view title, const std::vector<Band>& bands) {
  if (bands.empty()) return;
  out << title << '\n';
  for (const Band& band : bands) {
    out << "  " << bounds(band) << "  " << band.wording << "  [" << band.source.certainty << "]\n";
    for (const auto& [at, remark] : band.edges) {
      out << "    at " << hundredthsText(at) << ": " << remark << " [our choice]\n";
    }
  }
}

void printThreshold(std::ostream& out, const Threshold& threshold) {
  const auto figure = [&threshold](std::int32_t value) {
    return threshold.measure == "abi" ? hundredthsText(value) : std::to_string(value) + " mmHg";
  };
  out << "  " << threshold.measure;
  if (threshold.below) out << " below " << figure(*threshold.below);
  if (threshold.atMost) out << " at most " << figure(*threshold.atMost);
  if (threshold.rangeFrom && threshold.rangeTo) {
    out << ' ' << *threshold.rangeFrom << " to " << figure(*threshold.rangeTo)
        << " (range as printed)";
  }
  out << "  [" << threshold.source.certainty << "]\n";
}

int showRuleSet(const RuleSet& set, std::ostream& out) {
  out << set.name << "\nregion: " << set.region << "\nsource: " << set.source.text << " ["
      << set.source.certainty << "]\n";
  printBands(out, "Ankle-brachial index", set.abi);
  printBands(out, "Toe-brachial index", set.tbi);
  if (set.abi.empty()) out << "Ankle-brachial index: not stated by this source\n";
  if (set.tbi.empty()) out << "Toe-brachial index: not stated by this source\n";
  return kWell;
}

int showDefinition(const CltiDefinition& definition, std::ostream& out) {
  out << definition.name << "\ncondition: " << definition.condition;
  if (definition.durationDays) {
    out << (definition.durationStrict ? ", longer than " : ", at least ")
        << *definition.durationDays << " days";
  }
  out << "\nsource: " << definition.source.text << " [" << definition.source.certainty << "]\n";
  for (const Threshold& threshold : definition.thresholds) printThreshold(out, threshold);
  return kWell;
}

int showWifi(const WifiTables& wifi, std::ostream& out) {
  out << "WIfI, wound, ischaemia, foot infection\nsource: " << wifi.source.text << " ["
      << wifi.source.certainty << "]\nIschaemia\n";
  for (const IschaemiaRow& row : wifi.ischaemia) {
    const auto figure = [&row](std::int32_t value) {
      return row.measure == "abi" ? hundredthsText(value) : std::to_string(value) + " mmHg";
    };
    out << "  grade " << row.grade << "  " << row.measure << "  "
        << (row.from ? figure(*row.from) : "lowest") << " to "
        << (row.to ? figure(*row.to) : "highest") << "  [" << row.source.certainty << "]\n";
  }
  out << "Stage by wound, ischaemia and infection grade\n";
  for (std::size_t i = 0; i < wifi.cells.size(); ++i) {
    out << "  " << i / 16 << '-' << i / 4 % 4 << '-' << i % 4 << "  stage " << wifi.cells[i].stage
        << "  " << wifi.cells[i].outcome[0] << "  " << wifi.cells[i].outcome[1] << '\n';
  }
  return kWell;
}

void appendConceptJson(json::Writer& out, const Concept& row) {
  out.beginObject().member("id", row.id).member("label", row.label);
  out.name("local").boolean(row.local).name("codings").beginArray();
  for (const Coding& coding : row.codings) {
    out.beginObject().member("system", coding.system).member("code", coding.code);
    out.member("display", coding.display).name("verified").boolean(coding.verified);
    out.member("source", coding.source).endObject();
  }
  out.endArray().member("source", row.source).endObject();
}

void printConcept(std::ostream& out, const Concept& row) {
  out << row.id << '\t' << row.label << '\n';
  for (const Coding& coding : row.codings) {
    out << '\t' << coding.system << '|' << coding.code << '\t'
        << (coding.display.empty() ? "(display not seen)" : coding.display) << '\t'
        << (coding.verified ? "verified" : "not verified, never sent") << '\t' << coding.source
        << '\n';
  }
  if (row.local) out << "\town code\t" << row.source << '\n';
}

}  // namespace

int listRules(World& world) {
  world.out << "Rule sets for the ankle-brachial and toe-brachial index\n";
  for (const RuleSet& set : world.tables.ruleSets) {
    world.out << "  " << set.id << "  " << set.name << "  [" << set.source.certainty << "]\n";
  }
  world.out << "Definitions of chronic limb-threatening ischaemia\n";
  for (const CltiDefinition& definition : world.tables.clti) {
    world.out << "  clti-" << definition.id << "  " << definition.name << "  ["
              << definition.source.certainty << "]\n";
  }
  world.out << "Threatened-limb classification\n  wifi  " << world.tables.wifi.source.text << "  ["
            << world.tables.wifi.source.certainty << "]\n";
  world.out << "Remarks: " << world.tables.rules.size()
            << " rules, each shown by its id with `rules show ID`\n";
  world.out << "Tables SHA-256 " << world.tables.digest << '\n';
  return kWell;
}

int showRules(const std::string& name, World& world) {
  if (name == "wifi") return showWifi(world.tables.wifi, world.out);
  if (const RuleSet* set = world.tables.ruleSet(name)) return showRuleSet(*set, world.out);
  std::vector<std::string> names{"wifi"};
  for (const RuleSet& set : world.tables.ruleSets) names.push_back(set.id);
  for (const CltiDefinition& definition : world.tables.clti) {
    if (name == "clti-" + definition.id) return showDefinition(definition, world.out);
    names.push_back("clti-" + definition.id);
  }
  for (const Rule& rule : world.tables.rules) {
    names.push_back(rule.id);
    if (rule.id != name) continue;
    world.out << rule.id << "\nseverity: " << code(rule.severity) << "\nsays: " << rule.text
              << "\nmend: " << rule.mend << "\nsource: " << rule.source.text << " ["
              << rule.source.certainty << "]\n";
    for (const auto& [key, number] : rule.numbers) world.out << key << ": " << number << '\n';
    return kWell;
  }
  const std::string_view close = nearest(name, names);
  world.err << "There is no rule or rule set " << name << ".";
  if (!close.empty()) world.err << " Did you mean " << close << "?";
  world.err << " See `footbridge rules list`.\n";
  return kUsage;
}

int listCodes(const CodesOptions& options, World& world) {
  if (options.fhir) {
    world.out << package::codeSystem(world.tables, options.version) << '\n';
    return kWell;
  }
  for (const Concept& row : world.tables.concepts) {
    if (!options.json) {
      printConcept(world.out, row);
      continue;
    }
    json::Writer line;
    appendConceptJson(line, row);
    world.out << line.text() << '\n';
  }
  return kWell;
}

}  // namespace footbridge::app
