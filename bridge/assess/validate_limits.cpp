// One reading at a time: entry errors that a single figure gives away, then the limits of its item.
// A reading gets the first remark that fits and no second one: "0" is not also "below 40".

#include <algorithm>
#include <array>
#include <span>

#include "assess/validate_visit.hpp"
#include "model/rounding.hpp"

namespace footbridge::validation {
namespace {

struct Range {
  std::int32_t from = 0;
  std::int32_t to = 0;
};

/// The figures of the rules below, fetched once a visit since every reading is held against them.
struct Figures {
  explicit Figures(const Visit& visit)
      : placeholders{visit.figure("entry-placeholder", "first"),
                     visit.figure("entry-placeholder", "second")},
        codes{visit.figure("entry-incompressible-code", "first"),
              visit.figure("entry-incompressible-code", "second")},
        indexBelow(visit.figure("entry-index", "below")),
        systolic{visit.figure("entry-kpa", "systolicFrom"),
                 visit.figure("entry-kpa", "systolicTo")},
        diastolic{visit.figure("entry-kpa", "diastolicFrom"),
                  visit.figure("entry-kpa", "diastolicTo")},
        paco2{visit.figure("entry-kpa", "paco2From"), visit.figure("entry-kpa", "paco2To")},
        possibleTo(visit.figure("entry-kpa-possible", "to")),
        fahrenheit{visit.figure("entry-fahrenheit", "from"),
                   visit.figure("entry-fahrenheit", "to")},
        limitBelow(visit.figure("incompressible-limit-low", "below")),
        limitAbove(visit.figure("incompressible-limit-high", "above")) {}

  std::array<std::int32_t, 2> placeholders;
  std::array<std::int32_t, 2> codes;
  std::int32_t indexBelow;
  Range systolic;
  Range diastolic;
  Range paco2;
  std::int32_t possibleTo;
  Range fahrenheit;
  std::int32_t limitBelow;
  std::int32_t limitAbove;
};

constexpr bool between(Item item, Item first, Item last) { return item >= first && item <= last; }

constexpr bool armCuff(Item item) {
  return between(item, Item::ArmSystolic, Item::ArmSystolicAfterExercise);
}

constexpr bool legCuff(Item item) {
  return between(item, Item::AnkleDorsalisPedis, Item::ToePressure) ||
         between(item, Item::SegmentHighThigh, Item::SegmentCalf) ||
         between(item, Item::ExerciseDorsalisPedis, Item::ExercisePosteriorTibial);
}

constexpr bool cuff(Item item) { return armCuff(item) || legCuff(item); }

/// In mm[Hg], though not all of them by cuff.
constexpr bool inMillimetres(Item item) {
  return cuff(item) || item == Item::Tcpo2 || item == Item::CarbonDioxide;
}

/// The figure of a reading in its item's unit; nothing for words, findings and absences.
std::optional<Decimal> amount(const Reading& reading) {
  if (const auto* pressure = std::get_if<Pressure>(&reading.content)) {
    constexpr std::int64_t kTenthsInHalf = 5;
    return Decimal{pressure->halves * kTenthsInHalf, 1};
  }
  const auto* number = std::get_if<Decimal>(&reading.content);
  return number == nullptr ? std::nullopt : std::optional{*number};
}

std::string amountText(const Reading& reading) {
  if (const auto* pressure = std::get_if<Pressure>(&reading.content)) return pressure->text();
  const auto* number = std::get_if<Decimal>(&reading.content);
  return number == nullptr ? std::string{} : number->text();
}

bool equals(const Decimal& value, std::int32_t whole) {
  return order(value, Decimal{whole, 0}) == std::strong_ordering::equal;
}

bool below(const Decimal& value, const Decimal& bound) {
  return order(value, bound) == std::strong_ordering::less;
}

bool above(const Decimal& value, const Decimal& bound) { return below(bound, value); }

bool within(const Decimal& value, Range range) {
  return !below(value, Decimal{range.from, 0}) && !above(value, Decimal{range.to, 0});
}

bool outside(const Decimal& value, const std::optional<Decimal>& lowest,
             const std::optional<Decimal>& highest) {
  return (lowest && below(value, *lowest)) || (highest && above(value, *highest));
}

/// "40 to 300", "not below 0", "not above 5".
std::string rangeText(const std::optional<Decimal>& lowest, const std::optional<Decimal>& highest) {
  if (lowest && highest) return lowest->text() + " to " + highest->text();
  return lowest ? "not below " + lowest->text() : "not above " + highest->text();
}

/// What a check is given: a reading with its figure.
struct Entry {
  const Reading& reading;
  const Decimal& value;
  const Figures& figures;
};

void remarkOn(Visit& visit, RowId rule, const Entry& entry) {
  const Reading& reading = entry.reading;
  visit.remark(rule, reading.item, reading.side,
               {{"reading", visit.naming(reading.item, reading.side)},
                {"value", amountText(reading)},
                {"unit", visit.tables().row(reading.item).unitLabel}});
}

bool zeroTyped(Visit& visit, const Entry& entry) {
  if (!cuff(entry.reading.item) || entry.value.digits != 0) return false;
  remarkOn(visit, "entry-zero", entry);
  return true;
}

bool placeholderTyped(Visit& visit, const Entry& entry) {
  const auto& codes = entry.figures.placeholders;
  const bool typed = inMillimetres(entry.reading.item) &&
                     (equals(entry.value, codes[0]) || equals(entry.value, codes[1]));
  if (typed) remarkOn(visit, "entry-placeholder", entry);
  return typed;
}

bool incompressibleTyped(Visit& visit, const Entry& entry) {
  const auto& codes = entry.figures.codes;
  const bool typed = legCuff(entry.reading.item) &&
                     (equals(entry.value, codes[0]) || equals(entry.value, codes[1]));
  if (typed) remarkOn(visit, "entry-incompressible-code", entry);
  return typed;
}

bool indexTyped(Visit& visit, const Entry& entry) {
  const bool typed = cuff(entry.reading.item) && entry.value.digits > 0 &&
                     below(entry.value, Decimal{entry.figures.indexBelow, 0});
  if (typed) remarkOn(visit, "entry-index", entry);
  return typed;
}

std::optional<Range> kilopascalRange(Item item, const Figures& figures) {
  if (item == Item::ArmDiastolic) return figures.diastolic;
  if (armCuff(item)) return figures.systolic;
  if (item == Item::CarbonDioxide) return figures.paco2;
  return std::nullopt;
}

void remarkOnKilopascals(Visit& visit, RowId rule, const Entry& entry) {
  const Reading& reading = entry.reading;
  visit.remark(rule, reading.item, reading.side,
               {{"reading", visit.naming(reading.item, reading.side)},
                {"value", amountText(reading)},
                {"converted", fromKilopascals(entry.value, reading.item).text()}});
}

/// At the arm a pressure as low as a figure in kPa cannot be one in mmHg.
bool kilopascalsTyped(Visit& visit, const Entry& entry) {
  const auto range = kilopascalRange(entry.reading.item, entry.figures);
  const bool typed = range && entry.reading.original.empty() && within(entry.value, *range);
  if (typed) remarkOnKilopascals(visit, "entry-kpa", entry);
  return typed;
}

/// At the leg so low a pressure is real in severe disease, so only a fraction gives it away.
bool kilopascalsPossible(Visit& visit, const Entry& entry) {
  const Item item = entry.reading.item;
  const bool possible = (legCuff(item) || item == Item::Tcpo2) && entry.reading.original.empty() &&
                        !entry.value.whole() && entry.value.digits > 0 &&
                        !above(entry.value, Decimal{entry.figures.possibleTo, 0});
  if (possible) remarkOnKilopascals(visit, "entry-kpa-possible", entry);
  return possible;
}

bool fahrenheitTyped(Visit& visit, const Entry& entry) {
  const bool typed =
      entry.reading.item == Item::Temperature && within(entry.value, entry.figures.fahrenheit);
  if (typed) remarkOn(visit, "entry-fahrenheit", entry);
  return typed;
}

bool belowZero(Visit& visit, const Entry& entry) {
  if (entry.value.digits >= 0) return false;
  remarkOn(visit, "entry-negative", entry);
  return true;
}

void remarkOnLimits(Visit& visit, RowId rule, const Entry& entry, const std::string& range) {
  const Reading& reading = entry.reading;
  visit.remark(rule, reading.item, reading.side,
               {{"reading", visit.naming(reading.item, reading.side)},
                {"value", amountText(reading)},
                {"unit", visit.tables().row(reading.item).unitLabel},
                {"range", range}});
}

bool beyondLimits(Visit& visit, const Entry& entry) {
  const Limits& limits = visit.tables().row(entry.reading.item).limits;
  if (!outside(entry.value, limits.rejectBelow, limits.rejectAbove)) return false;
  remarkOnLimits(visit, "limit-refused", entry, rangeText(limits.rejectBelow, limits.rejectAbove));
  return true;
}

bool unusual(Visit& visit, const Entry& entry) {
  const Limits& limits = visit.tables().row(entry.reading.item).limits;
  if (!outside(entry.value, limits.queryBelow, limits.queryAbove)) return false;
  remarkOnLimits(visit, "limit-queried", entry, rangeText(limits.queryBelow, limits.queryAbove));
  return true;
}

using Check = bool (*)(Visit&, const Entry&);

constexpr std::array<Check, 10> kPlainChecks{
    belowZero,        zeroTyped,           placeholderTyped, incompressibleTyped, indexTyped,
    kilopascalsTyped, kilopascalsPossible, fahrenheitTyped,  beyondLimits,        unusual};

/// "> 300" says where the cuff stopped: it is held against the outer limits only.
constexpr std::array<Check, 2> kComparedChecks{belowZero, beyondLimits};

/// Where the cuff stopped without shutting the artery, as a finding or as "> 250". At the toe
/// "> 60" is a trace that was lost, not a hard artery.
std::optional<Pressure> cuffLimit(const Reading& reading) {
  if (const auto* finding = std::get_if<Incompressible>(&reading.content)) return finding->limit;
  if (!incompressible(&reading) || reading.item == Item::ToePressure) return std::nullopt;
  return std::get<Pressure>(reading.content);
}

void checkCuffLimit(Visit& visit, const Reading& reading, const Figures& figures) {
  if (!legCuff(reading.item)) return;
  const std::optional<Pressure> limit = cuffLimit(reading);
  if (!limit) return;
  const bool low = *limit < Pressure::mmhg(figures.limitBelow);
  const bool high = *limit > Pressure::mmhg(figures.limitAbove) &&
                    std::holds_alternative<Incompressible>(reading.content);
  if (!low && !high) return;
  visit.remark(choose(low, "incompressible-limit-low", "incompressible-limit-high"), reading.item,
               reading.side,
               {{"reading", visit.naming(reading.item, reading.side)},
                {"value", limit->text()},
                {"bound", std::to_string(low ? figures.limitBelow : figures.limitAbove)}});
}

/// Each repeat may be a slip that the mean hides; of the mean only what is unusual is left to say.
constexpr std::span<const Check> kRepeatChecks = std::span{kPlainChecks}.first(9);
constexpr std::span<const Check> kMeanChecks = std::span{kPlainChecks}.last(1);

/// True if one of the checks remarked on the figure.
bool remarkedBy(std::span<const Check> checks, Visit& visit, const Reading& reading,
                const Figures& figures) {
  const std::optional<Decimal> value = amount(reading);
  if (!value) return false;
  const Entry entry{reading, *value, figures};
  return std::any_of(checks.begin(), checks.end(),
                     [&](Check check) { return check(visit, entry); });
}

void checkRepeats(Visit& visit, const Reading& reading, const Figures& figures) {
  bool found = false;
  for (const Reading& repeat : reading.repeats) {
    found = remarkedBy(kRepeatChecks, visit, repeat, figures) || found;
  }
  if (!found) remarkedBy(kMeanChecks, visit, reading, figures);
}

void checkReading(Visit& visit, const Reading& reading, const Figures& figures) {
  checkCuffLimit(visit, reading, figures);
  if (!reading.repeats.empty()) return checkRepeats(visit, reading, figures);
  const bool plain = reading.comparator == Comparator::None;
  remarkedBy(plain ? std::span<const Check>{kPlainChecks} : kComparedChecks, visit, reading,
             figures);
}

}  // namespace

void checkLimits(Visit& visit) {
  const Figures figures{visit};
  for (const Reading& reading : visit.assessment().readings) checkReading(visit, reading, figures);
}

}  // namespace footbridge::validation
