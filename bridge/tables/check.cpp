// What must hold between the rows of different files.

#include <algorithm>
#include <array>
#include <set>

#include "tables/fields.hpp"

namespace footbridge::tables {
namespace {

class Checker {
 public:
  Checker(const Tables& tables, Issues& issues) : tables_(tables), issues_(issues) {}

  void fault(std::string_view row, std::string what) {
    issues_.push_back({Severity::Fatal, IssueType::Invariant, "tables", std::string(row),
                       std::string(row) + ": " + std::move(what),
                       "Mend the table file, or use the tables built into the program."});
  }

  void conceptExists(std::string_view row, std::string_view id) {
    if (!id.empty() && tables_.concept_(id) == nullptr) {
      fault(row, "there is no concept " + std::string(id) + ".");
    }
  }

  void items();
  void indices();
  void words();
  void codings();
  void scales();
  void schemes();
  void criteria();
  void uniqueIds();
  void realms();
  void realmElements(const Realm& realm);

 private:
  void scale(const RuleSet& set, const std::vector<Band>& bands);

  const Tables& tables_;
  Issues& issues_;
};

void Checker::items() {
  for (const ItemRow& row : tables_.items) {
    const std::string_view name = id(row.item);
    conceptExists(name, row.concept_id);
    conceptExists(name, row.method);
    for (const std::string& site : row.site) conceptExists(name, site);
    const bool needsWords = row.kind == Kind::Word || row.kind == Kind::Pulse;
    if (needsWords && tables_.wordList(row.words) == nullptr)
      fault(name, "its word list is missing.");
    if (!needsWords && row.unit.empty()) fault(name, "its unit is missing.");
    const bool placed = row.path.find("{side}") != std::string::npos;
    if (placed != row.sided) fault(name, "side and path do not agree.");
  }
}

void Checker::indices() {
  for (const IndexRow& row : tables_.indices) {
    conceptExists(id(row.kind), row.concept_id);
    for (const std::string& site : row.site) conceptExists(id(row.kind), site);
    for (const std::string& sided : row.concept_by_side) conceptExists(id(row.kind), sided);
  }
}

void Checker::words() {
  for (const WordList& list : tables_.wordLists) {
    for (const WordRow& word : list.words) conceptExists(list.id, word.concept_id);
  }
  for (const WaveformRow& row : tables_.waveforms) conceptExists(row.word, row.outcome);
}

void Checker::codings() {
  for (const Concept& row : tables_.concepts) {
    const bool standard = std::any_of(row.codings.begin(), row.codings.end(),
                                      [](const Coding& coding) { return coding.verified; });
    if (!row.local && !standard) fault(row.id, "it has neither a code of ours nor a verified one.");
    for (const Coding& coding : row.codings) {
      if (coding.verified && tables_.reservedFor(row.id, coding.system, coding.code)) {
        fault(row.id, "its code " + coding.code + " would be taken for a vital sign.");
      }
    }
  }
}

void Checker::scale(const RuleSet& set, const std::vector<Band>& bands) {
  std::int32_t next = 0;
  for (std::size_t i = 0; i < bands.size(); ++i) {
    conceptExists(bands[i].id, bands[i].outcome);
    if (bands[i].from.value_or(0) != next) fault(bands[i].id, "it leaves a gap or overlaps.");
    if (i + 1 < bands.size() && !bands[i].to)
      fault(bands[i].id, "only the last class may be open.");
    next = bands[i].to.value_or(0) + 1;
  }
  if (!bands.empty() && bands.back().to) fault(set.id, "its last class is not open.");
}

void Checker::scales() {
  for (const std::vector<RuleSet>* sets : {&tables_.ruleSets, &tables_.compression}) {
    for (const RuleSet& set : *sets) {
      scale(set, set.abi);
      scale(set, set.tbi);
    }
  }
}

void Checker::schemes() {
  for (const WifiCell& cell : tables_.wifi.cells) {
    if (cell.stage < 1 || cell.stage > 4) fault("wifi.json", "a cell is missing or has no stage.");
    for (const std::string& outcome : cell.outcome) conceptExists("wifi.json", outcome);
  }
}

/// Rows of one scheme share one Observation, so they stand beside each other.
void Checker::criteria() {
  std::set<std::string_view> schemes;
  std::set<std::string_view> ids;
  std::string_view last;
  for (const CltiDefinition& row : tables_.clti) ids.insert(row.id);
  for (const Criterion& row : tables_.criteria) {
    conceptExists(row.id, row.scheme);
    if (!row.scheme.ends_with("-criterion")) fault(row.id, "its scheme is none of criteria.");
    if (row.scheme != last && !schemes.insert(row.scheme).second) {
      fault(row.id, "it stands apart from the others of its scheme.");
    }
    if (!ids.insert(row.id).second || tables_.concept_(row.id) != nullptr) {
      fault(row.id, "its id is taken.");
    }
    last = row.scheme;
  }
}

void Checker::uniqueIds() {
  for (std::size_t i = 1; i < tables_.concepts.size(); ++i) {
    if (tables_.concepts[i - 1].id == tables_.concepts[i].id)
      fault(tables_.concepts[i].id, "twice.");
  }
  for (std::size_t i = 1; i < tables_.rules.size(); ++i) {
    if (tables_.rules[i - 1].id == tables_.rules[i].id) fault(tables_.rules[i].id, "twice.");
  }
}

/// What carries the meaning of a result, so that no realm can have it left out.
bool isNeeded(std::string_view element, std::string_view of) {
  static constexpr std::array<std::string_view, 18> kOfResults{
      "Observation.meta",           "Observation.text",         "Observation.identifier",
      "Observation.status",         "Observation.category",     "Observation.code",
      "Observation.subject",        "Observation.effective[x]", "Observation.performer",
      "Observation.value[x]",       "Observation.bodySite",     "Observation.dataAbsentReason",
      "Observation.interpretation", "Observation.note",         "Observation.method",
      "Observation.hasMember",      "Observation.derivedFrom",  "Observation.component"};
  static constexpr std::array<std::string_view, 6> kNotOfPanels{
      "Observation.value[x]", "Observation.dataAbsentReason", "Observation.interpretation",
      "Observation.method",   "Observation.hasMember",        "Observation.derivedFrom"};
  const auto in = [element](const auto& list) {
    return std::find(list.begin(), list.end(), element) != list.end();
  };
  if (of == "result") return in(kOfResults);
  const bool shared = element == "Observation.encounter" || element == "Observation.issued";
  return shared || (in(kOfResults) && !in(kNotOfPanels));
}

void Checker::realmElements(const Realm& realm) {
  const auto each = [&](const std::vector<RealmElements>& rows, auto&& look) {
    for (const RealmElements& row : rows) {
      const bool panel = row.of == "blood-pressure";
      if (!panel && row.of != "result") fault(realm.id, "elements are of " + row.of + ".");
      for (const std::string& element : row.elements) {
        if (!element.starts_with("Observation.")) fault(realm.id, element + " is none of results.");
        look(element, row.of);
      }
    }
  };
  each(realm.mustSupport, [&](const std::string& element, const std::string& of) {
    const bool clash = of == "result" && !allows(realm, element);
    if (clash) fault(realm.id, element + " is asked for and forbidden.");
  });
  each(realm.forbidden, [&](const std::string& element, const std::string& of) {
    const bool written = of == "result" || realm.armPanel == ArmPanel::Yes;
    if (written && isNeeded(element, of)) {
      fault(realm.id,
            "it forbids " + element + ", without which a " + of + " says something else.");
    }
  });
}

void Checker::realms() {
  if (tables_.realm("base") == nullptr) fault("realms.json", "it has no realm base.");
  static constexpr std::array<std::string_view, 4> kOf{"result", "loinc-result", "blood-pressure",
                                                       "Patient"};
  for (const Realm& realm : tables_.realms) {
    realmElements(realm);
    for (const RealmProfile& profile : realm.profiles) {
      if (std::find(kOf.begin(), kOf.end(), profile.of) != kOf.end()) continue;
      fault(realm.id, "a profile is of " + profile.of + ", which nothing is.");
    }
  }
}

}  // namespace

void checkTables(const Tables& tables, Issues& issues) {
  Checker checker(tables, issues);
  checker.items();
  checker.indices();
  checker.words();
  checker.codings();
  checker.scales();
  checker.schemes();
  checker.criteria();
  checker.uniqueIds();
  checker.realms();
}

}  // namespace footbridge::tables
