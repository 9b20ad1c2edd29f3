#include "csv/visit.hpp"

#include <algorithm>

#include "core/decimal.hpp"
#include "csv/map_nodes.hpp"
#include "csv/tree.hpp"
#include "json/writer.hpp"

namespace footbridge::csv {
namespace {

using json::Number;
using json::Object;
using json::Value;

constexpr std::string_view kNhsNumber = "https://fhir.nhs.uk/Id/nhs-number";

/// NHS numbers are printed in groups of 3, 3 and 4 and sent as ten digits.
std::string identifierValue(std::string_view cell, std::string_view system) {
  std::string out(cell);
  if (system == kNhsNumber) std::erase_if(out, [](char c) { return c == ' ' || c == '-'; });
  return out;
}

Value identifier(std::string_view system, std::string value) {
  return Value(Object{{"system", Value(std::string(system))}, {"value", Value(std::move(value))}});
}

bool isItemPart(Role role) { return role >= Role::ItemName; }

bool decimalDigits(std::string_view text) {
  return !text.empty() && text.find_first_not_of("0123456789") == std::string_view::npos;
}

}  // namespace

std::string Visit::place() const {
  std::string word(word_);
  const std::size_t first = firstRow_.value_or(0);
  if (first == lastRow_) return word + " " + std::to_string(first);
  if (word.ends_with('y')) word.replace(word.size() - 1, 1, "ie");
  return word + "s " + std::to_string(first) + " to " + std::to_string(lastRow_);
}

std::string Visit::placeOf(const Row& row, std::size_t column) const {
  if (!row.places.empty()) return row.places[columns_[column].index];
  return "row " + std::to_string(row.number) + ", column '" + columns_[column].column->name + "'";
}

void Visit::put(const std::string& pointer, Value value, const std::string& place) {
  putAt(root_, pointer, std::move(value));
  places_.emplace_back(pointer, place);
}

void Visit::count(const Row& row) {
  if (!firstRow_) firstRow_ = row.number;
  word_ = row.word;
  lastRow_ = row.number;
  raw_ += row.raw;
  if (!raw_.ends_with('\n')) raw_ += '\n';  // the last row of a file may lack it
}

void Visit::addUnread(const Row& row, Issues why) {
  count(row);
  append(issues_, std::move(why));
}

void Visit::start(Value root, std::vector<std::pair<std::string, std::string>> places) {
  root_ = std::move(root);
  places_ = std::move(places);
}

void Visit::add(const Row& row) {
  read_ = true;
  count(row);
  item_ = {};
  for (std::size_t i = 0; i < columns_.size(); ++i) {
    const Column& column = *columns_[i].column;
    const std::string_view text = trimmed(row.cells[columns_[i].index]);
    if (text.empty() || column.target.role == Role::Ignore) continue;
    Cell cell{&column.target, std::string(text), placeOf(row, i)};
    if (isItemPart(column.target.role)) {
      item(column.target.role) = std::move(cell);
    } else if (agrees(i, cell)) {
      take(std::move(cell));
    }
  }
  if (map_.rows == RowMeaning::Reading) takeItem();
}

/// True if the cell is new. Rows of one visit repeat what is said of the visit; they must not say
/// different things.
bool Visit::agrees(std::size_t column, const Cell& cell) {
  std::string& seen = seen_[column];
  if (seen.empty()) {
    seen = cell.text;
    return true;
  }
  if (seen != cell.text) {
    at(cell.place)
        .remark("csv-disagree",
                {{"value", shortened(cell.text, 60)}, {"other", shortened(seen, 60)}});
  }
  return false;
}

void Visit::take(Cell cell) {
  switch (cell.target->role) {
    case Role::Text:
    case Role::Given:
      return takeText(cell);
    case Role::FullName:
      return takeFullName(cell);
    case Role::Word:
      return takeWord(cell);
    case Role::Whole:
      return takeWhole(cell);
    case Role::Identifier:
      return takeIdentifier(cell);
    case Role::Day:
      return takeDay(cell);
    case Role::Moment:
      if (cell.target->pointer == "/measuredAt") {
        day_ = std::move(cell);
      } else if (const std::optional<Instant> moment = momentIn(cell, nullptr)) {
        put(cell.target->pointer, Value(footbridge::text(*moment)), cell.place);
      }
      return;
    case Role::MomentDay:
      day_ = std::move(cell);
      return;
    case Role::MomentTime:
      time_ = std::move(cell);
      return;
    case Role::Reading:
      return takeReading(cell, *cell.target);
    case Role::ReadingNote:
      notes_.push_back({cell.target->pointer, std::move(cell)});
      return;
    default:
      return;
  }
}

void Visit::takeText(const Cell& cell) {
  if (cell.target->role == Role::Given) {
    appendAt(root_, cell.target->pointer, Value(cell.text));
    places_.emplace_back(cell.target->pointer, cell.place);
  } else if (cell.target->pointer == "/note") {
    joinAt(root_, cell.target->pointer, cell.text);
    places_.emplace_back(cell.target->pointer, cell.place);
  } else {
    put(cell.target->pointer, Value(cell.text), cell.place);
  }
}

void Visit::takeFullName(const Cell& cell) {
  const std::size_t comma = cell.text.find(',');
  const std::string_view family = trimmed(std::string_view(cell.text).substr(0, comma));
  if (comma == std::string::npos || family.empty()) {
    at(cell.place).remark("csv-name", {{"value", shortened(cell.text, 60)}});
    return;
  }
  put("/patient/family", Value(std::string(family)), cell.place);
  const std::string_view given = trimmed(std::string_view(cell.text).substr(comma + 1));
  if (given.empty()) return;
  appendAt(root_, "/patient/given", Value(std::string(given)));
  places_.emplace_back("/patient/given", cell.place);
}

void Visit::takeWord(const Cell& cell) {
  const CellPlace place = at(cell.place);
  if (const Value* meaning = meaningOf(cell.text, *cell.target, place)) {
    return put(cell.target->pointer, *meaning, cell.place);
  }
  std::string known;
  for (const auto& [word, ignored] : cell.target->words) known += word + ", ";
  for (const std::string_view word : allowedWords(cell.target->pointer)) {
    if (folded(cell.text) == word) {
      return put(cell.target->pointer, Value(std::string(word)), cell.place);
    }
    known += std::string(word) + ", ";
  }
  known.resize(known.size() - 2);
  place.remark(
      "csv-word",
      {{"value", shortened(cell.text, 60)}, {"label", cell.target->path}, {"words", known}});
}

void Visit::takeWhole(const Cell& cell) {
  if (decimalDigits(cell.text) && cell.text.front() != '0') {
    put(cell.target->pointer, Value(Number{cell.text}), cell.place);
  } else {
    at(cell.place)
        .remark("csv-number", {{"value", shortened(cell.text, 60)}, {"label", cell.target->path}});
  }
}

void Visit::takeIdentifier(const Cell& cell) {
  if (looksScientific(cell.text)) {
    at(cell.place).remark("csv-scientific", {{"value", cell.text}});
    return;
  }
  Value value = identifier(cell.target->system, identifierValue(cell.text, cell.target->system));
  if (cell.target->pointer != "/patient/identifiers") {
    return put(cell.target->pointer, std::move(value), cell.place);
  }
  const std::size_t index = appendAt(root_, cell.target->pointer, std::move(value));
  places_.emplace_back(json::child(cell.target->pointer, index), cell.place);
}

void Visit::takeDay(const Cell& cell) {
  std::string_view rest;
  const std::optional<Date> date = cell.target->date->read(cell.text, rest);
  if (date && midnightOnly(rest)) {
    put(cell.target->pointer, Value(footbridge::text(*date)), cell.place);
  } else {
    at(cell.place)
        .remark("csv-date",
                {{"value", shortened(cell.text, 60)}, {"pattern", cell.target->date->text()}});
  }
}

void Visit::takeReading(const Cell& cell, const Target& target) {
  std::optional<Value> reading = readingIn(cell.text, target, at(cell.place));
  if (!reading) return;
  if (valueAt(root_, target.pointer) != nullptr) {
    at(cell.place).remark("csv-reading-twice", {{"label", target.path}});
    return;
  }
  put(target.pointer, *std::move(reading), cell.place);
}

std::optional<Side> Visit::itemSide(const Target& target) {
  const Cell& cell = item(Role::ItemSide);
  const std::string word = folded(cell.text);
  std::optional<Side> side;
  if (const auto found = map_.sides.find(word); found != map_.sides.end()) {
    side = found->second;
  } else if (word == "right" || word == "r") {
    side = Side::Right;
  } else if (word == "left" || word == "l") {
    side = Side::Left;
  }
  const bool wanted = target.pointer.find("{side}") != std::string::npos;
  const std::string named = side ? "/" + std::string(footbridge::word(*side)) + "/" : "";
  const bool fixed = target.pointer.find("/right/") != std::string::npos ||
                     target.pointer.find("/left/") != std::string::npos;
  const bool against = side && fixed && target.pointer.find(named) == std::string::npos;
  if ((wanted && !side) || against || (!cell.text.empty() && !side)) {
    const Cell& name = item(Role::ItemName);
    at(cell.place.empty() ? name.place : cell.place)
        .remark("csv-side", {{"value", shortened(cell.text, 60)}, {"reading", name.text}});
    return std::nullopt;
  }
  return side.value_or(Side::None);
}

/// The row's own unit, where it has one.
bool Visit::takeItemUnit(Target& target) {
  const Cell& cell = item(Role::ItemUnit);
  const ItemRow& row = tables_.row(*target.item);
  const std::string unit = folded(cell.text);
  if (unit.empty()) return true;
  if (unit == folded(row.unitLabel) || unit == folded(row.unit)) {
    target.unit.clear();
    return true;
  }
  if (row.kind == Kind::Pressure && unit == "kpa") {
    target.unit = "kPa";
    return true;
  }
  at(cell.place)
      .remark("csv-unit", {{"value", shortened(cell.text, 60)},
                           {"unit", row.unitLabel.empty() ? "no unit" : row.unitLabel}});
  return false;
}

void Visit::takeItem() {
  const Cell name = item(Role::ItemName);
  const Cell value = item(Role::ItemValue);
  const Cell note = item(Role::ItemNote);
  if (name.text.empty()) {
    if (!value.text.empty()) at(value.place).remark("csv-item-missing", {{"value", value.text}});
    return;
  }
  const auto found = map_.readings.find(folded(name.text));
  if (found == map_.readings.end()) {
    std::vector<std::string> known;
    for (const auto& [reading, ignored] : map_.readings) known.push_back(reading);
    const std::string_view close = nearest(folded(name.text), known);
    at(name.place)
        .remark("csv-item",
                {{"value", shortened(name.text, 60)},
                 {"hint", close.empty() ? "" : " Is it \"" + std::string(close) + "\"?"}});
    return;
  }
  Target target = found->second;
  if (target.role == Role::Ignore) return;
  const std::optional<Side> side = itemSide(target);
  if (!side || !takeItemUnit(target)) return;
  target.pointer = fill(target.pointer, {{"side", footbridge::word(*side)}});
  target.path = fill(target.path, {{"side", footbridge::word(*side)}});
  if (!value.text.empty()) takeReading(value, target);
  if (!note.text.empty()) notes_.push_back({target.pointer, note});
}

intake::Text Visit::text() {
  intake::Text out;
  if (read_) {
    finishMoment();
    finishNotes();
    finishIdentifier();
    putDefaults(root_, map_);
    put("/format", Value(std::string("footbridge-assessment-1")), place());
    json::appendValue(out.bytes, root_);
  }
  out.issues = std::move(issues_);
  out.original = intake::Original{{}, {}, std::move(raw_), place(), std::move(places_)};
  return out;
}

}  // namespace footbridge::csv
