#include "tables/tables.hpp"

#include <algorithm>
#include <cstdio>
#include <cstdlib>

#include "core/digest.hpp"
#include "core/file.hpp"
#include "tables/fields.hpp"
#include "tables/thresholds.hpp"

namespace footbridge {
namespace {

template <class Row>
const Row* first(const std::vector<Row>& rows, std::string_view id) {
  const auto found =
      std::find_if(rows.begin(), rows.end(), [id](const Row& row) { return row.id == id; });
  return found == rows.end() ? nullptr : &*found;
}

/// A label on each side and without one.
std::array<std::string, 3> namedOn(const std::string& label) {
  std::array<std::string, 3> out{label, label, label};
  for (const Side side : kSides) {
    out[static_cast<std::size_t>(side)] += " (" + std::string(word(side)) + ")";
  }
  return out;
}

std::string digestOf(const tables::Files& files) {
  std::string all;
  for (const auto& [name, bytes] : files) all += name + ' ' + sha256(bytes) + '\n';
  return sha256(all);
}

Result<Tables> assemble(const tables::Files& files) {
  Tables out;
  Issues issues;
  tables::loadCatalogue(files, out, issues);
  tables::loadSchemes(files, out, issues);
  tables::loadCriteria(files, out, issues);
  tables::loadRules(files, out, issues);
  tables::loadHeadings(files, out, issues);
  tables::loadPresets(files, out, issues);
  tables::loadRealms(files, out, issues);
  out.index();
  if (issues.empty()) tables::checkTables(out, issues);
  if (!issues.empty()) return issues;
  out.digest = digestOf(files);
  return out;
}

}  // namespace

const Concept* Tables::concept_(RowId id) const { return conceptIds_.find(concepts, id); }

const WordList* Tables::wordList(RowId id) const { return wordListIds_.find(wordLists, id); }

const WordRow* Tables::wordOf(const ItemRow& row, std::string_view word) const {
  if (row.wordsAt >= wordLists.size()) return nullptr;
  const std::vector<WordRow>& words = wordLists[row.wordsAt].words;
  const auto found = std::find_if(words.begin(), words.end(), [word](const WordRow& known) {
    return sameText(known.word, word);
  });
  return found == words.end() ? nullptr : &*found;
}

const RuleSet* Tables::ruleSet(RowId id) const { return ruleSetIds_.find(ruleSets, id); }

const CltiDefinition* Tables::definition(RowId id) const { return definitionIds_.find(clti, id); }

const Criterion* Tables::criterion(RowId id) const { return criterionIds_.find(criteria, id); }

std::string_view Tables::criterionName(std::string_view id) const {
  if (const CltiDefinition* found = definition(id)) return found->name;
  const Criterion* found = criterion(id);
  return found == nullptr ? id : std::string_view{found->name};
}

const Band* Tables::band(std::string_view id) const {
  for (const std::vector<RuleSet>* sets : {&ruleSets, &compression}) {
    for (const RuleSet& set : *sets) {
      const Band* found = first(set.abi, id);
      if (found == nullptr) found = first(set.tbi, id);
      if (found != nullptr) return found;
    }
  }
  return nullptr;
}

const PulseScale* Tables::pulseScale(std::string_view id) const { return first(pulseScales, id); }

const WaveformRow* Tables::waveform(std::string_view word) const {
  const auto found = std::find_if(waveforms.begin(), waveforms.end(),
                                  [word](const WaveformRow& row) { return row.word == word; });
  return found == waveforms.end() ? nullptr : &*found;
}

// The ids that code asks for are checked by the tests of each stage; one that is not there is our
// fault.
const Rule& Tables::rule(RowId id) const {
  const Rule* found = ruleIds_.find(rules, id);
  if (found == nullptr) {
    std::fprintf(stderr, "footbridge: rules.json has no row %.*s\n",
                 static_cast<int>(id.text().size()), id.text().data());
    std::abort();
  }
  return *found;
}

const Realm* Tables::realm(std::string_view id) const { return first(realms, id); }

bool Tables::reservedFor(std::string_view conceptId, std::string_view system,
                         std::string_view code) const {
  // The one place where a blood pressure is meant: both parts of an arm's pressure together.
  if (conceptId == "arm-pressure-panel" || conceptId.starts_with("part-")) return false;
  return std::any_of(reserved.begin(), reserved.end(),
                     [&](const auto& row) { return row.first == system && row.second == code; });
}

void Tables::index() {
  conceptIds_.index(concepts);
  wordListIds_.index(wordLists);
  ruleSetIds_.index(ruleSets);
  definitionIds_.index(clti);
  criterionIds_.index(criteria);
  ruleIds_.index(rules);
  if (std::all_of(kThresholdRules.begin(), kThresholdRules.end(),
                  [this](RowId id) { return ruleIds_.find(rules, id) != nullptr; })) {
    sayThresholds(*this);
  }
  for (WordList& list : wordLists) {
    for (WordRow& row : list.words) {
      if (const Concept* found = concept_(row.concept_id)) row.label = found->label;
    }
  }
  const Rule* notRecorded = ruleIds_.find(rules, "derive-not-recorded");
  for (ItemRow& row : items) {
    const WordList* list = wordList(row.words);
    row.wordsAt =
        list == nullptr ? wordLists.size() : static_cast<std::size_t>(list - wordLists.data());
    row.named = namedOn(row.label);
    for (std::size_t side = 0; notRecorded != nullptr && side < row.named.size(); ++side) {
      row.missing[side] = notRecorded->sentence.fill({{"reading", row.named[side]}});
    }
  }
  for (IndexRow& row : indices) row.named = namedOn(row.label);
}

std::string Tables::place(Item item, Side side) const {
  return fill(row(item).path, {{"side", word(side)}});
}

const std::int32_t* Rule::number(std::string_view name) const {
  const auto found = std::find_if(numbers.begin(), numbers.end(),
                                  [name](const auto& one) { return sameText(one.first, name); });
  return found == numbers.end() ? nullptr : &found->second;
}

Issue issue(const Rule& rule, std::string place, Arguments arguments) {
  return {rule.severity,
          rule.type,
          rule.id,
          std::move(place),
          rule.sentence.fill(arguments),
          rule.mend.fill(arguments)};
}

Result<Tables> embeddedTables() { return assemble(tables::embeddedFiles()); }

Result<Tables> loadTables(const std::filesystem::path& directory) {
  tables::Files files;
  Issues issues;
  for (const std::string& name : tables::fileNames()) {
    Result<std::string> bytes = readFile(directory / name);
    if (bytes) {
      files.emplace(name, *std::move(bytes));
    } else {
      append(issues, bytes.issues());
    }
  }
  if (!issues.empty()) return issues;
  return assemble(files);
}

}  // namespace footbridge
