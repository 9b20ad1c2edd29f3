#include <array>
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

/// By which `rules show` finds a definition.
std::string shownName(const CltiDefinition& definition) {
  return (definition.scheme == "clti-criterion" ? "clti-" : "") + definition.id;
}

int showCompression(const RuleSet& text, std::ostream& out) {
  out << text.name << "\nsource: " << text.source.text << " [" << text.source.certainty << "]\n";
  printBands(out, "Text by ankle-brachial index, to weigh and never an order", text.abi);
  return kWell;
}

int showCriterion(const Criterion& row, std::ostream& out) {
  static constexpr std::array<std::string_view, 4> kEdges{"above", "at least", "below", "at most"};
  const bool index = row.measure.starts_with("abi.") || row.measure == "change.abi";
  out << row.id << "\nasks: " << row.name << "\nmeasure: " << row.measure << ", "
      << kEdges[static_cast<std::size_t>(row.edge)] << ' '
      << (index ? hundredthsText(row.figure) : std::to_string(row.figure))
      << (row.eitherWay ? ", up or down" : "") << "\nsource: " << row.source.text << " ["
      << row.source.certainty << "]\n";
  return kWell;
}

int showRule(const Rule& rule, std::ostream& out) {
  out << rule.id << "\nseverity: " << code(rule.severity) << "\nsays: " << rule.sentence.text()
      << "\nmend: " << rule.mend.text() << "\nsource: " << rule.source.text << " ["
      << rule.source.certainty << "]\n";
  for (const auto& [key, number] : rule.numbers) out << key << ": " << number << '\n';
  return kWell;
}

std::vector<std::string> everyName(const Tables& tables) {
  std::vector<std::string> names{"wifi"};
  for (const RuleSet& set : tables.ruleSets) names.push_back(set.id);
  for (const RuleSet& text : tables.compression) names.push_back("compression-" + text.id);
  for (const CltiDefinition& definition : tables.clti) names.push_back(shownName(definition));
  for (const Criterion& row : tables.criteria) names.push_back(row.id);
  for (const Rule& rule : tables.rules) names.push_back(rule.id);
  return names;
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

std::string_view origin(const Coding& coding) {
  return coding.origin.empty() ? std::string_view{"shipped"} : std::string_view{coding.origin};
}

void appendConceptJson(json::Writer& out, const Concept& row) {
  out.beginObject().member("id", row.id).member("label", row.label);
  out.name("local").boolean(row.local).name("codings").beginArray();
  for (const Coding& coding : row.codings) {
    out.beginObject().member("system", coding.system).member("code", coding.code);
    out.member("display", coding.display).name("verified").boolean(coding.verified);
    out.member("source", coding.source).member("from", origin(coding)).endObject();
  }
  out.endArray().member("source", row.source).endObject();
}

void printConcept(std::ostream& out, const Concept& row) {
  out << row.id << '\t' << row.label << '\n';
  for (const Coding& coding : row.codings) {
    out << '\t' << coding.system << '|' << coding.code << '\t'
        << (coding.display.empty() ? "(display not seen)" : coding.display) << '\t'
        << (coding.verified ? "verified" : "not verified, never sent") << '\t' << coding.source
        << '\t' << origin(coding) << '\n';
  }
  if (row.local) out << "\town code\t" << row.source << '\n';
}

}  // namespace

int listRules(World& world) {
  world.out << "Rule sets for the ankle-brachial and toe-brachial index\n";
  for (const RuleSet& set : world.tables.ruleSets) {
    world.out << "  " << set.id << "  " << set.name << "  [" << set.source.certainty << "]\n";
  }
  world.out << "Definitions of chronic limb-threatening ischaemia, Rutherford categories\n";
  for (const CltiDefinition& definition : world.tables.clti) {
    world.out << "  " << shownName(definition) << "  " << definition.name << "  ["
              << definition.source.certainty << "]\n";
  }
  world.out << "Published figures for single measures\n";
  for (const Criterion& row : world.tables.criteria) {
    world.out << "  " << row.id << "  " << row.name << "  [" << row.source.certainty << "]\n";
  }
  world.out << "Texts on compression (to weigh, never an order)\n";
  for (const RuleSet& text : world.tables.compression) {
    world.out << "  compression-" << text.id << "  " << text.name << "  [" << text.source.certainty
              << "]\n";
  }
  world.out << "Threatened-limb classification\n  wifi  " << world.tables.wifi.source.text << "  ["
            << world.tables.wifi.source.certainty << "]\n";
  world.out << "Remarks: " << world.tables.rules.size()
            << " rules, each shown by its id with `rules show ID`\n";
  world.out << "Tables SHA-256 " << world.tables.digest << '\n';
  return kWell;
}

int showRules(const std::string& name, World& world) {
  const Tables& tables = world.tables;
  if (name == "wifi") return showWifi(tables.wifi, world.out);
  if (const RuleSet* set = tables.ruleSet(name)) return showRuleSet(*set, world.out);
  if (const Criterion* row = tables.criterion(name)) return showCriterion(*row, world.out);
  for (const RuleSet& text : tables.compression) {
    if (name == "compression-" + text.id) return showCompression(text, world.out);
  }
  for (const CltiDefinition& definition : tables.clti) {
    if (name == shownName(definition)) return showDefinition(definition, world.out);
  }
  for (const Rule& rule : tables.rules) {
    if (rule.id == name) return showRule(rule, world.out);
  }
  const std::vector<std::string> names = everyName(tables);
  const std::string_view close = nearest(name, names);
  world.err << "There is no rule or rule set " << name << ".";
  if (!close.empty()) world.err << " Did you mean " << close << "?";
  world.err << " See `footbridge rules list`.\n";
  return kUsage;
}

void printElements(std::ostream& out, std::string_view what,
                   const std::vector<RealmElements>& all) {
  for (const RealmElements& row : all) {
    out << '\t' << what << '\t' << row.of << '\t';
    std::string_view between;
    for (const std::string& element : row.elements) {
      out << between << element;
      between = ", ";
    }
    out << '\t' << row.source.text << " [" << row.source.certainty << "]\n";
  }
}

int listRealms(World& world) {
  for (const Realm& realm : world.tables.realms) {
    world.out << realm.id << '\t' << realm.name << "\n\tsource: " << realm.source.text << " ["
              << realm.source.certainty << "]\n";
    if (realm.armPanel == ArmPanel::Yes) {
      world.out << "\tarm pressures with both parts also leave as a blood pressure\n";
    }
    for (const RealmProfile& profile : realm.profiles) {
      world.out << '\t' << profile.of << '\t' << profile.url << '\t'
                << (profile.checked ? "checked" : "not checked") << '\t' << profile.source << '\n';
    }
    printElements(world.out, "always there", realm.mustSupport);
    printElements(world.out, "never there", realm.forbidden);
  }
  return kWell;
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
