#pragma once
// One visit's readings of one patient. Plain data: intake fills, assess reads, package writes it.

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "core/decimal.hpp"
#include "core/time.hpp"
#include "model/items.hpp"

namespace footbridge {

/// A pressure in half millimetres of mercury: the mean of two whole readings is exact, others and
/// figures in kPa are rounded by model/rounding.hpp; Reading::original keeps what was sent.
struct Pressure {
  std::int32_t halves = 0;

  static constexpr Pressure mmhg(std::int32_t whole) { return {whole * 2}; }

  /// Whole millimetres, half ones floored: towards worse for every threshold in use.
  constexpr std::int32_t floor() const { return (halves - (halves < 0 ? 1 : 0)) / 2; }

  /// "98" or "98.5".
  std::string text() const;

  auto operator<=>(const Pressure&) const = default;
};

/// FHIR Quantity.comparator; None is a plain value.
enum class Comparator : std::uint8_t { None, Less, LessOrEqual, GreaterOrEqual, Greater };

/// "", "<", "<=", ">=", ">".
std::string_view symbol(Comparator comparator);

/// One of the words that an item's word list in mapping/words.json allows. The text belongs to the
/// tables, which outlive every assessment.
struct Word {
  std::string_view text;
  bool operator==(const Word&) const = default;
};

/// A pulse as written on a numbered scale, beside the word it stands for ("" if the scale names
/// none).
struct GradedPulse {
  std::string_view scale;
  std::int32_t grade = 0;
  std::string_view word;
  bool operator==(const GradedPulse&) const = default;
};

/// The artery could not be shut by the cuff: flow went on at `limit`. Not a pressure.
struct Incompressible {
  std::optional<Pressure> limit;
  bool operator==(const Incompressible&) const = default;
};

/// The artery was looked for and no Doppler signal was found. Not zero.
struct NoSignal {
  bool operator==(const NoSignal&) const = default;
};

/// FHIR data-absent-reason (R4), in the order of its code system; see absentReasons().
enum class AbsentReason : std::uint8_t {
  Unknown,
  AskedUnknown,
  TempUnknown,
  NotAsked,
  AskedDeclined,
  Masked,
  NotApplicable,
  Unsupported,
  AsText,
  Error,
  NotANumber,
  NegativeInfinity,
  PositiveInfinity,
  NotPerformed,
  NotPermitted
};

struct AbsentReasonRow {
  std::string_view code;
  std::string_view display;  ///< as the code system has it
  std::string_view words;    ///< as a clinician would say it
};

/// Code, display and words of each reason, in the order of the enumeration.
const std::array<AbsentReasonRow, 15>& absentReasons();

/// No reading, and why.
struct Absence {
  AbsentReason reason = AbsentReason::Unknown;
  bool operator==(const Absence&) const = default;
};

/// What was read, stated or found missing. A Decimal is in the item's unit of mapping/items.json.
using Content =
    std::variant<Pressure, Decimal, Word, GradedPulse, Incompressible, NoSignal, Absence>;

/// One item on one side.
struct Reading {
  Item item{};
  Side side = Side::None;
  Content content;
  Comparator comparator = Comparator::None;
  std::string note;      ///< the clinician's words, "" if none
  std::string original;  ///< number and unit as sent, where they were converted ("16.0 kPa")
  std::vector<Reading> repeats{};  ///< the readings of which the content is the mean, if any

  bool operator==(const Reading&) const = default;
};

struct Identifier {
  std::string system;
  std::string value;
  bool operator==(const Identifier&) const = default;
};

/// Who or what is referred to: an identifier to find it by, a name for people, or both.
struct Party {
  std::optional<Identifier> identifier;
  std::string name;
  bool operator==(const Party&) const = default;
};

/// Enough of a person to find the right record, and no more.
struct Patient {
  std::vector<Identifier> identifiers;
  std::string family;
  std::vector<std::string> given;
  std::optional<Date> birthDate;
  std::string gender;  ///< FHIR administrative-gender or ""
  bool operator==(const Patient&) const = default;
};

/// A measuring instrument. `kind` is a word of the list "instrument" in mapping/words.json.
struct Instrument {
  std::string_view kind;
  std::string manufacturer;
  std::string model;
  std::string serial;
  std::optional<Date> calibratedOn;
  bool operator==(const Instrument&) const = default;
};

enum class Status : std::uint8_t { Preliminary, Final, Corrected, EnteredInError };
std::string_view word(Status status);

/// The whole visit. `readings` are in the order of Item, then right before left, as find() needs.
struct Assessment {
  Identifier identifier;
  std::int32_t revision = 1;
  Status status = Status::Final;
  Instant measuredAt;
  std::optional<Instant> issuedAt;  ///< when it was signed off; measuredAt stands in where absent
  Patient patient;
  Party performer;
  std::string performerRole;
  Party organization;
  std::optional<Identifier> encounter;
  std::optional<Identifier> order;
  std::optional<Identifier> replaces;  ///< an assessment that is withdrawn
  std::vector<Instrument> instruments;
  std::vector<Reading> readings;
  std::optional<Date> previousOn;  ///< when the figures of an earlier assessment were measured
  std::string room;                ///< remarks on the room, "" if none
  std::string note;
  std::string sourceDigest;  ///< SHA-256 of the bytes it was read from

  /// The reading of an item on a side, or nullptr if nothing at all was sent for it.
  const Reading* find(Item item, Side side) const;

  /// Where the readings of each item begin, by sortReadings(); where it is stale find() searches.
  std::array<std::uint16_t, kItemCount + 1> starts{};
};

/// Sorts the readings into the order that find() needs and notes where each item begins.
void sortReadings(Assessment& assessment);

/// The pressure if it was read as a plain value: no comparator, no finding, not absent.
std::optional<Pressure> plainPressure(const Reading* reading);

/// The number if it was read as a plain value.
std::optional<Decimal> plainNumber(const Reading* reading);

/// The word chosen (for a graded pulse the word it stands for); "" if none.
std::string_view chosenWord(const Reading* reading);

/// True if the artery did not yield: found incompressible, or read as above a limit.
bool incompressible(const Reading* reading);

/// True if the artery was looked for without finding a signal.
bool noSignal(const Reading* reading);

}  // namespace footbridge
