#include "csv/cell.hpp"

#include <algorithm>
#include <array>

namespace footbridge::csv {
namespace {

using json::Number;
using json::Object;
using json::Value;

/// What Decimal can hold, with sign and mark.
constexpr std::size_t kLongestNumber = 15;

bool digit(char c) { return c >= '0' && c <= '9'; }

Value textValue(std::string_view text) { return Value(std::string(text)); }

Value objectOf(std::string_view name, std::string_view text) {
  return Value(Object{{std::string(name), textValue(text)}});
}

bool hasWord(const Tables& tables, const ItemRow& row, std::string_view word) {
  const WordList* list = row.words.empty() ? nullptr : tables.wordList(row.words);
  return list != nullptr &&
         std::any_of(list->words.begin(), list->words.end(),
                     [word](const WordRow& known) { return known.word == word; });
}

/// True if the item can hold what a word for all columns stands for.
bool fits(const Value& meaning, const ItemRow& row, const Tables& tables) {
  const bool numeric = row.kind == Kind::Pressure || row.kind == Kind::Number;
  if (const std::string* text = meaning.asString()) {
    return text->empty() || hasWord(tables, row, *text);
  }
  if (meaning.asNumber() != nullptr) return numeric;
  if (meaning.member("absent") != nullptr) return true;
  if (meaning.member("finding") != nullptr) return row.kind == Kind::Pressure;
  if (meaning.member("grade") != nullptr) return row.kind == Kind::Pulse;
  const Value* value = meaning.member("value");
  if (value == nullptr) return false;
  return value->asNumber() != nullptr ? numeric : fits(*value, row, tables);
}

/// "No signal" is no-signal: words may be written with blanks and in any case.
std::string hyphenated(std::string_view cell) {
  std::string out = folded(cell);
  std::replace(out.begin(), out.end(), ' ', '-');
  return out;
}

/// A word of the format itself.
std::optional<Value> ownWord(std::string_view cell, const ItemRow& row, const Tables& tables) {
  const std::string word = hyphenated(cell);
  if (const WordList* list = row.words.empty() ? nullptr : tables.wordList(row.words)) {
    for (const WordRow& known : list->words) {
      if (folded(known.word) == word) return textValue(known.word);
    }
  }
  for (const std::string_view finding : {"incompressible", "no-signal"}) {
    if (row.kind == Kind::Pressure && word == finding) return objectOf("finding", finding);
  }
  for (const AbsentReasonRow& reason : absentReasons()) {
    // "unknown" and "error" are said of many things, so the map has to say what they mean here.
    const bool clear = reason.code.find('-') != std::string_view::npos;
    if (clear && word == reason.code) return objectOf("absent", reason.code);
  }
  return std::nullopt;
}

/// "2", "2+", "+2" on the scale that the map names.
std::optional<Value> gradeIn(std::string_view cell, const Target& target) {
  if (target.scale.empty()) return std::nullopt;
  if (cell.starts_with('+')) {
    cell.remove_prefix(1);
  } else if (cell.ends_with('+')) {
    cell.remove_suffix(1);
  }
  if (cell.size() != 1 || !digit(cell.front())) return std::nullopt;
  return Value(
      Object{{"grade", Value(Number{std::string(cell)})}, {"scale", textValue(target.scale)}});
}

/// Takes a comparator off the front, or a plus off the end; both signs of one kind are known.
std::string_view takeComparator(std::string_view& cell) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 6> kSigns{
      {{">=", ">="}, {"<=", "<="}, {"\u2265", ">="}, {"\u2264", "<="}, {">", ">"}, {"<", "<"}}};
  for (const auto& [sign, comparator] : kSigns) {
    if (!cell.starts_with(sign)) continue;
    cell = trimmed(cell.substr(sign.size()));
    return comparator;
  }
  if (!cell.ends_with('+')) return {};
  cell = trimmed(cell.substr(0, cell.size() - 1));
  return ">=";
}

/// The digits at the front with `mark` before the fraction, as JSON writes them; "" if there is no
/// number.
std::string takeNumber(std::string_view& cell, char mark) {
  std::string out;
  std::string_view rest = cell;
  if (rest.starts_with('-')) {
    out += '-';
    rest.remove_prefix(1);
  }
  const std::size_t whole = std::min(rest.find_first_not_of("0123456789"), rest.size());
  std::string_view digits = rest.substr(0, whole);
  rest.remove_prefix(whole);
  while (digits.size() > 1 && digits.front() == '0') digits.remove_prefix(1);
  if (digits.empty()) return {};
  out += digits;
  if (rest.starts_with(mark)) {
    const std::string_view tail = rest.substr(1);
    const std::size_t width = std::min(tail.find_first_not_of("0123456789"), tail.size());
    if (width == 0) return {};
    out += '.';
    out += tail.substr(0, width);
    rest = tail.substr(width);
  }
  if (out.size() > kLongestNumber) return {};
  cell = trimmed(rest);
  return out;
}

std::string_view unitOf(const Target& target, const ItemRow& row) {
  return target.unit.empty() ? std::string_view{row.unitLabel} : std::string_view{target.unit};
}

Value measured(std::string number, std::string_view comparator, const Target& target) {
  Value value(Number{std::move(number)});
  if (comparator.empty() && target.unit.empty()) return value;
  Object out{{"value", std::move(value)}};
  if (!target.unit.empty()) out.emplace_back("unit", textValue(target.unit));
  if (!comparator.empty()) out.emplace_back("comparator", textValue(comparator));
  return Value(std::move(out));
}

/// Why a cell is no number, as closely as can be said.
void refuseNumber(std::string_view cell, const ItemRow& row, const CellPlace& place) {
  const std::string value(shortened(cell, 60));
  const bool other = place.map.decimals == Decimals::Point;
  std::string_view rest = cell;
  takeComparator(rest);
  const std::string swapped = takeNumber(rest, other ? ',' : '.');
  const bool starts = digit(cell.front());
  if (looksScientific(cell)) {
    place.remark("csv-scientific", {{"value", value}});
  } else if (starts && cell.find('/') != std::string_view::npos) {
    place.remark("csv-two-numbers", {{"value", value}, {"label", row.label}});
  } else if (!swapped.empty() && rest.empty() && swapped.find('.') != std::string::npos) {
    place.remark(
        "csv-decimal",
        {{"value", value}, {"mark", other ? "point" : "comma"}, {"other", other ? "," : "."}});
  } else {
    place.remark("csv-number", {{"value", value}, {"label", row.label}});
  }
}

std::optional<Value> numberIn(std::string_view cell, const Target& target, const ItemRow& row,
                              const CellPlace& place) {
  std::string_view rest = cell;
  const std::string_view comparator = takeComparator(rest);
  std::string number = takeNumber(rest, place.map.decimals == Decimals::Comma ? ',' : '.');
  if (!number.empty() && rest.empty()) return measured(std::move(number), comparator, target);
  const bool unit = !number.empty() && folded(rest) == folded(unitOf(target, row));
  if (unit) return measured(std::move(number), comparator, target);
  const bool otherUnit = !number.empty() && (folded(rest) == "kpa" || folded(rest) == "mmhg");
  if (otherUnit && row.kind == Kind::Pressure) {
    place.remark("csv-unit", {{"value", shortened(cell, 60)}, {"unit", unitOf(target, row)}});
  } else {
    refuseNumber(cell, row, place);
  }
  return std::nullopt;
}

/// The words that would have been understood, for people.
std::string knownWords(const Target& target, const ItemRow& row, const CellPlace& place) {
  std::string out;
  const auto add = [&out](std::string_view word) {
    out += (out.empty() ? "" : ", ") + std::string(word);
  };
  for (const auto& [word, ignored] : target.words) add(word);
  for (const auto& [word, meaning] : place.map.words) {
    if (fits(meaning, row, place.tables)) add(word);
  }
  const WordList* list = place.tables.wordList(row.words);
  for (const WordRow& word : list->words) add(word.word);
  return out;
}

}  // namespace

bool looksScientific(std::string_view cell) {
  const std::size_t e = cell.find_first_of("eE");
  if (e == std::string_view::npos || e == 0 || e + 2 >= cell.size()) return false;
  const std::string_view power = cell.substr(e + 1);
  return cell.substr(0, e).find_first_not_of("0123456789.,") == std::string_view::npos &&
         (power.front() == '+' || power.front() == '-' || digit(power.front())) &&
         power.substr(1).find_first_not_of("0123456789") == std::string_view::npos;
}

const Value* meaningOf(std::string_view cell, const Target& target, const CellPlace& place) {
  const std::string word = folded(cell);
  if (const auto own = target.words.find(word); own != target.words.end()) return &own->second;
  const auto shared = place.map.words.find(word);
  if (shared == place.map.words.end() || !target.item) return nullptr;
  return fits(shared->second, place.tables.row(*target.item), place.tables) ? &shared->second
                                                                            : nullptr;
}

std::optional<Value> readingIn(std::string_view cell, const Target& target,
                               const CellPlace& place) {
  const ItemRow& row = place.tables.row(*target.item);
  cell = trimmed(cell);
  if (const Value* meaning = meaningOf(cell, target, place)) {
    const std::string* text = meaning->asString();
    return text != nullptr && text->empty() ? std::nullopt : std::optional{*meaning};
  }
  if (std::optional<Value> word = ownWord(cell, row, place.tables)) return word;
  if (row.kind == Kind::Pressure || row.kind == Kind::Number) {
    return numberIn(cell, target, row, place);
  }
  if (std::optional<Value> grade = gradeIn(cell, target)) return grade;
  place.remark("csv-word", {{"value", shortened(cell, 60)},
                            {"label", row.label},
                            {"words", knownWords(target, row, place)}});
  return std::nullopt;
}

}  // namespace footbridge::csv
