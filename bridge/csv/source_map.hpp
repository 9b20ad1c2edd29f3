#pragma once
// What a clinic's table means: docs/source-maps.md by example, schemas/source-map.schema.json in
// full.

#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/result.hpp"
#include "core/zone.hpp"
#include "csv/clock.hpp"
#include "csv/decode.hpp"
#include "json/value.hpp"
#include "tables/tables.hpp"

namespace footbridge::csv {

/// What a cell is read as.
enum class Role : std::uint8_t {
  Ignore,
  Text,        ///< as it stands
  Given,       ///< one given name
  FullName,    ///< "family, given"
  Word,        ///< one of a few words: gender, status
  Whole,       ///< a whole number: revision
  Identifier,  ///< a value in an identifier system
  Day,
  Moment,     ///< day and time, with or without an offset
  MomentDay,  ///< day of measuredAt, the time stands in another column
  MomentTime,
  Reading,
  ReadingNote,
  ItemName,  ///< rows of one reading: which reading
  ItemSide,
  ItemValue,
  ItemUnit,
  ItemNote
};

/// What the clinic's words stand for, by lower-case text: a word of ours, a reading as in
/// docs/input.md, or "" for nothing recorded.
using Words = std::map<std::string, json::Value, std::less<>>;

/// Where a cell goes and how it is read.
struct Target {
  Role role = Role::Ignore;
  std::string path;     ///< as written in the map: "legs.right.ankle.dorsalisPedis"
  std::string pointer;  ///< JSON Pointer into the assessment; of a {side} path with "{side}" in it
  std::optional<Item> item;
  std::string unit;    ///< "kPa", else "": the unit of the item
  std::string scale;   ///< pulses: scale of mapping/pulses.json, "" if none
  std::string system;  ///< identifiers
  std::optional<DatePattern> date;
  Words words;
};

struct Column {
  std::string name;
  Target target;
};

enum class RowMeaning : std::uint8_t { Assessment, Reading };
enum class Overlap : std::uint8_t { Refuse, Earlier, Later };
enum class Decimals : std::uint8_t { Point, Comma };
enum class Identify : std::uint8_t { Column, PatientAndTime };

/// Which revision a final result is.
enum class Revisions : std::uint8_t {
  Corrections,  ///< the first, unless it corrects
  ByTime        ///< told by the time of its status: a preliminary result may have come before
};

/// What only messages of HL7 v2 need.
struct Messages {
  std::map<std::string, std::string, std::less<>> authorities;  ///< as in the message: system
  std::string charset = "ASCII";  ///< of messages that do not say: a value of MSH-18
  Revisions revisions = Revisions::Corrections;
};

/// What only Observations of FHIR need.
struct Resources {
  Revisions revisions = Revisions::Corrections;
};

/// A checked source map. Immutable once loaded; `tables` have to outlive it.
struct SourceMap {
  std::string name;
  std::string base;  ///< identifier systems without one of their own are named below it
  char delimiter = ',';
  Encoding encoding = Encoding::Utf8;
  RowMeaning rows = RowMeaning::Assessment;
  Decimals decimals = Decimals::Point;
  Overlap overlap = Overlap::Refuse;
  Identify identify = Identify::Column;
  std::optional<DatePattern> date;
  std::optional<Zone> zone;
  std::string zoneName;
  std::optional<std::int32_t> time;  ///< stated for rows that have none, second of the day
  Words words;
  std::vector<Column> columns;
  std::map<std::string, Target, std::less<>> readings;  ///< rows of one reading, by lower-case name
  std::map<std::string, Side, std::less<>> sides;       ///< the same
  std::optional<Messages> messages;                     ///< the map is one of HL7 v2 messages
  std::optional<Resources> resources;                   ///< the map is one of FHIR Observations
  json::Value defaults;                                 ///< an assessment in part

  /// True for a map of tables; the others have no columns.
  bool ofTables() const { return !messages && !resources; }

  /// The first column of that role, or nullptr.
  const Column* find(Role role) const;
};

/// Reads a map. Every problem is an issue with the line of the map as place; only a TOML syntax
/// error hides the others.
Result<SourceMap> loadSourceMap(std::string_view toml, const Tables& tables);

/// Lower case, without blanks at the ends and with one blank for any run of them: how words and
/// names of readings are compared.
std::string folded(std::string_view text);

/// The same with its case kept: how names of columns are compared.
std::string squeezed(std::string_view text);

}  // namespace footbridge::csv
