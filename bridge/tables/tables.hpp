#pragma once
// The rows of mapping/*.json as typed, checked structs. Data only: bounds, codes, names, sources.
// Loaded once (embedded in the program, or from a directory), immutable afterwards, shared by all
// threads. Every row has an id and a source; docs/tables.md describes the files field by field.

#include <array>
#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/result.hpp"
#include "core/text.hpp"
#include "model/assessment.hpp"
#include "model/items.hpp"
#include "tables/criteria.hpp"
#include "tables/headings.hpp"
#include "tables/ids.hpp"
#include "tables/presets.hpp"
#include "tables/realms.hpp"

namespace footbridge {

/// A code of a standard terminology, with the evidence for using it.
struct Coding {
  std::string system;
  std::string code;
  std::string display;  ///< "" where the official one was not seen
  bool verified = false;
  std::string source;
  std::string origin;  ///< the overlay file that it comes from, "" for the shipped table
};

/// A thing with a name: everything that becomes a CodeableConcept. `id` is the code in our own
/// CodeSystem; `codings` the verified standard ones (others are kept as evidence and never
/// emitted).
struct Concept {
  std::string id;
  std::string label;
  std::string definition;
  std::vector<Coding> codings;
  bool local = true;  ///< false: only standard codings are emitted (body sites, categories)
  std::string source;
};

struct WordRow {
  std::string word;        ///< as written in the input
  std::string concept_id;  ///< id in concepts.json
  std::string label;       ///< of that concept; put in by Tables::index()
};

struct WordList {
  std::string id;
  std::vector<WordRow> words;
};

enum class Kind : std::uint8_t { Pressure, Number, Word, Pulse };

/// Limits in the item's own unit; nothing where a side is open.
struct Limits {
  std::optional<Decimal> rejectBelow;
  std::optional<Decimal> rejectAbove;
  std::optional<Decimal> queryBelow;
  std::optional<Decimal> queryAbove;
  Source source;
};

/// One row of items.json: what an item is, where it stands in the input, how it is coded.
struct ItemRow {
  Item item{};
  std::string label;
  Kind kind = Kind::Word;
  bool sided = false;
  std::string path;        ///< JSON Pointer with {side}: "/legs/{side}/ankle/dorsalisPedis"
  std::string concept_id;  ///< Observation.code; "" for attributes of another item
  std::string unit;        ///< UCUM code, "" for words
  std::string unitLabel;   ///< the unit for people: "mmHg"
  std::string words;       ///< id of its word list, "" if none
  std::size_t wordsAt{};   ///< the place of that list; put in by Tables::index()
  std::string category;    ///< observation-category code
  std::array<std::string, 2> site;  ///< concept ids of the body site, right and left; "" if none
  std::string method;               ///< concept id, "" if none
  std::string instrument;           ///< kind of instrument that measures it, "" if none
  Limits limits;
  std::array<std::string, 3> named{};    ///< by side: "Toe pressure (left)"; by Tables::index()
  std::array<std::string, 3> missing{};  ///< by side: that it was not recorded; by Tables::index()
};

struct IndexRow {
  IndexKind kind{};
  std::string label;
  std::string concept_id;
  std::array<std::string, 2>
      concept_by_side;  ///< where the standard code carries the side; else ""
  std::string unit;
  std::array<std::string, 2> site;
  Source source;
  std::array<std::string, 3> named{};  ///< by side: "Toe-brachial index (left)"
};

/// One class of a scale: from..to inclusive, in hundredths; open where nothing stands.
struct Band {
  std::string id;  ///< "acc-aha-2024.abi.abnormal"
  std::optional<std::int32_t> from;
  std::optional<std::int32_t> to;
  std::string outcome;  ///< concept id, "" for a span that the source leaves without a name
  std::string wording;  ///< the class as the source calls it
  Source source;
  /// Edges where the source names two classes or none, with our choice: hundredths -> remark.
  std::map<std::int32_t, std::string> edges;
};

struct RuleSet {
  std::string id;
  std::string name;
  std::string region;
  std::vector<Band> abi;  ///< empty: the source states none
  std::vector<Band> tbi;
  Source source;
};

/// What one definition asks of one measure.
struct Threshold {
  std::string measure;  ///< "ankle" | "toe" | "tcpo2" | "abi"
  /// met when value < below, or <= atMost; a printed range: met below it, not met above, else
  /// unsaid.
  std::optional<std::int32_t> below;
  std::optional<std::int32_t> atMost;
  std::optional<std::int32_t> rangeFrom;
  std::optional<std::int32_t> rangeTo;
  Source source;  ///< abi thresholds are in hundredths, pressures in mmHg
  /// What is remarked where it is met, not met, undecided and where nothing usable was read, with
  /// all put in but the {value}; by Tables::index().
  std::array<Sentence, 4> says{};
};

/// Whether one measure is enough where several are listed.
enum class Join : std::uint8_t { Any, NotStated };

/// A published definition that asks pressures: of limb-threatening ischaemia (clti.json), or of a
/// Rutherford category (rutherford.json).
struct CltiDefinition {
  std::string id;
  std::string scheme;  ///< "clti-criterion" | "rutherford-criterion"
  std::string name;
  std::string condition;  ///< "any" | "rest-pain" | "tissue-loss"
  std::vector<Threshold> thresholds;
  Join join = Join::Any;
  std::optional<std::int32_t> durationDays;  ///< how long the condition must have lasted
  bool durationStrict = true;                ///< more than, not at least
  Source source;
};

struct WifiCell {
  std::array<std::string, 2> outcome;  ///< concept ids: amputation risk, revascularisation benefit
  std::int32_t stage = 0;
  Source source;
};

/// A row of the ischaemia table: grade by one measure, from..to inclusive.
struct IschaemiaRow {
  std::string id;
  std::string measure;  ///< "abi" (hundredths) | "ankle" | "toe" | "tcpo2" (mmHg)
  std::int32_t grade = 0;
  std::optional<std::int32_t> from;
  std::optional<std::int32_t> to;
  Source source;
};

/// A row of the wound table: which grade a described wound or gangrene has.
struct WoundRow {
  std::string id;
  std::string depth;     ///< word of list wound-depth, "" any
  std::string site;      ///< "heel" | "toe" | "other" than the heel | "" any
  std::string gangrene;  ///< word of list gangrene, "" any
  std::int32_t grade = 0;
  Source source;
};

struct WifiTables {
  std::vector<WoundRow> wound;
  std::vector<IschaemiaRow> ischaemia;
  std::array<WifiCell, 64> cells;  ///< index 16 w + 4 i + fi
  Source source;
  Source infectionSource;
};

/// One term of the trade for a Doppler sound or trace and the class it stands for.
struct WaveformRow {
  std::string word;     ///< word of list doppler
  std::string outcome;  ///< concept id of the consensus class, "" where the term is ambiguous
  std::string remark;   ///< rule id that explains, "" if none
  Source source;
};

struct PulseScale {
  std::string id;
  std::string name;
  std::map<std::int32_t, std::string> meaning;  ///< grade -> word of list pulse; absent: not stated
  std::int32_t lowest = 0;
  std::int32_t highest = 0;
  Source source;
};

/// One row of rules.json: everything Footbridge can remark on.
struct Rule {
  std::string id;
  std::string stage;  ///< "intake" | "validate" | "derive" | "grade" | "flag"
  Severity severity = Severity::Information;
  IssueType type = IssueType::Informational;
  Sentence sentence;        ///< what is remarked
  Sentence mend;            ///< what the sender can do about it
  std::string mendInTable;  ///< the same for whoever typed a table; "" where `mend` serves both
  /// Numbers that the rule compares with, by name ("gap": 75): data, so that they can be replaced.
  std::vector<std::pair<std::string, std::int32_t>> numbers;
  Source source;

  /// The number of that name, or nullptr.
  const std::int32_t* number(std::string_view name) const;
};

/// All tables. Lookups by id return nullptr where nothing has that id; at() is for ids that the
/// loader has checked and stops the program otherwise.
class Tables {
 public:
  std::vector<Concept> concepts;
  std::vector<WordList> wordLists;
  std::vector<ItemRow> items;     ///< in the order of Item, complete
  std::vector<IndexRow> indices;  ///< in the order of IndexKind, complete
  std::vector<RuleSet> ruleSets;
  std::vector<RuleSet> compression;  ///< what texts on compression say by ankle-brachial index
  std::vector<CltiDefinition> clti;  ///< those of one scheme beside each other
  std::vector<Criterion> criteria;   ///< those of one scheme beside each other
  WifiTables wifi;
  std::vector<WaveformRow> waveforms;
  std::vector<PulseScale> pulseScales;
  std::vector<Rule> rules;
  std::vector<HeadingRow> headings;
  std::vector<PresetRow> presets;
  std::vector<Realm> realms;
  ReservedCodes reserved;     ///< codes that imply a vital sign, which no reading may bear
  std::string canonicalBase;  ///< "https://footbridge.example"
  std::string digest;         ///< SHA-256 over all files, in the order of their names

  const ItemRow& row(Item item) const { return items[static_cast<std::size_t>(item)]; }
  const IndexRow& row(IndexKind kind) const { return indices[static_cast<std::size_t>(kind)]; }
  const Concept* concept_(RowId id) const;
  const WordList* wordList(RowId id) const;
  /// The row of a word of an item; nullptr if its list does not have it, or there is no list.
  const WordRow* wordOf(const ItemRow& row, std::string_view word) const;
  const RuleSet* ruleSet(RowId id) const;
  const PulseScale* pulseScale(std::string_view id) const;
  const WaveformRow* waveform(std::string_view word) const;
  const CltiDefinition* definition(RowId id) const;
  const Criterion* criterion(RowId id) const;
  /// The name of a definition or criterion, its id where it has none.
  std::string_view criterionName(std::string_view id) const;
  /// The class of an index by its id, of a rule set or a text on compression.
  const Band* band(std::string_view id) const;
  const Rule& rule(RowId id) const;
  const Realm* realm(std::string_view id) const;
  /// Whether a validator would take the code for a vital sign that this concept is not.
  bool reservedFor(std::string_view conceptId, std::string_view system,
                   std::string_view code) const;

  /// What people call it: "Toe pressure (left)", "Ankle-brachial index (right)".
  const std::string& naming(Item item, Side side) const {
    return row(item).named[static_cast<std::size_t>(side)];
  }
  /// "Toe pressure (left) was not recorded."
  const std::string& missing(Item item, Side side) const {
    return row(item).missing[static_cast<std::size_t>(side)];
  }
  const std::string& naming(IndexKind kind, Side side) const {
    return row(kind).named[static_cast<std::size_t>(side)];
  }

  /// The item's JSON Pointer with its side put in.
  std::string place(Item item, Side side) const;

  /// Makes the rows findable; done by the loader when they are complete.
  void index();

 private:
  Ids conceptIds_;
  Ids wordListIds_;
  Ids ruleSetIds_;
  Ids definitionIds_;
  Ids criterionIds_;
  Ids ruleIds_;
};

/// An issue made by a rule: its severity, type and mend, and its sentence with the arguments put
/// in.
Issue issue(const Rule& rule, std::string place, Arguments arguments = {});

/// The tables built into the program.
Result<Tables> embeddedTables();

/// The tables of a directory that holds all the files; issues name file and row.
Result<Tables> loadTables(const std::filesystem::path& directory);

}  // namespace footbridge
