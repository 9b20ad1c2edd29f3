// What can be said of a visit only once all its cells are there: when it was, who it is, what is
// stated for all rows.

#include <algorithm>

#include "core/digest.hpp"
#include "csv/tree.hpp"
#include "csv/visit.hpp"

namespace footbridge::csv {
namespace {

using json::Object;
using json::Value;

/// A reading with the clinician's words added; words without a reading are all that is known.
Value noted(const Value* reading, const std::string& note) {
  if (reading == nullptr) {
    return Value(Object{{"absent", Value(std::string("as-text"))}, {"note", Value(note)}});
  }
  Value out = *reading;
  if (out.asObject() == nullptr) out = Value(Object{{"value", *reading}});
  joinAt(out, "/note", note);
  return out;
}

/// The parts of a default that a row which says something of the kind still lacks.
std::vector<std::string> missingParts(std::string_view name, const Value& said,
                                      const Value& stated) {
  std::vector<std::string> out;
  const Object* parts = stated.asObject();
  if (parts == nullptr) return out;
  for (const auto& [part, content] : *parts) {
    const bool shared = name == "conditions" || (name == "performer" && part == "role");
    if (shared && said.member(part) == nullptr) out.push_back(part);
  }
  return out;
}

}  // namespace

std::optional<Instant> Visit::onTheClock(const Date& date, std::int32_t second,
                                         const std::string& place) {
  const Moments moments = map_.zone->at(date, second);
  if (moments.count == Moments::Count::One) return moments.first;
  const bool twice = moments.count == Moments::Count::Two;
  if (twice && map_.overlap != Overlap::Refuse) {
    return map_.overlap == Overlap::Earlier ? moments.first : moments.second;
  }
  at(place).remark(twice ? "csv-overlap" : "csv-gap",
                   {{"zone", map_.zoneName},
                    {"first", footbridge::text(moments.first)},
                    {"second", footbridge::text(moments.second)}});
  return std::nullopt;
}

/// The moment in a cell for the day and one for the time, or in one cell for both.
std::optional<Instant> Visit::momentIn(const Cell& day, const Cell* time) {
  if (const std::optional<Instant> whole = parseInstant(day.text)) return whole;
  std::string_view rest;
  const DatePattern& pattern = *day.target->date;
  const std::optional<Date> date = pattern.read(day.text, rest);
  const bool apart = day.target->role == Role::MomentDay;
  if (!date || (apart && !midnightOnly(rest))) {
    at(day.place).remark("csv-date",
                         {{"value", shortened(day.text, 60)}, {"pattern", pattern.text()}});
    return std::nullopt;
  }
  if (rest.starts_with('T') || rest.starts_with(',')) rest.remove_prefix(1);
  const std::string_view clock =
      apart ? (time == nullptr ? "" : std::string_view(time->text)) : trimmed(rest);
  const std::string& place = apart && time != nullptr ? time->place : day.place;
  const std::optional<std::int32_t> second = clock.empty() ? map_.time : readTime(clock);
  if (!second || !map_.zone) {
    const bool missing = clock.empty() || !map_.zone;
    at(place).remark(missing ? "csv-time-missing" : "csv-time", {{"value", shortened(clock, 60)}});
    return std::nullopt;
  }
  if (clock.empty()) joinAt(root_, "/note", std::string(kStatedTime));
  return onTheClock(*date, *second, place);
}

void Visit::finishMoment() {
  if (day_.text.empty()) {
    at(time_.place.empty() ? place() : time_.place).remark("csv-day-missing", {});
    return;
  }
  const std::optional<Instant> moment = momentIn(day_, time_.text.empty() ? nullptr : &time_);
  if (moment) put("/measuredAt", Value(footbridge::text(*moment)), day_.place);
}

void Visit::finishNotes() {
  for (const Note& note : notes_) {
    put(note.pointer, noted(valueAt(root_, note.pointer), note.cell.text), note.cell.place);
  }
}

/// Made of whose and when, so that the same visit has the same identifier in every file.
void Visit::finishIdentifier() {
  const Value* patient = valueAt(root_, "/patient/identifiers");
  const Value* moment = valueAt(root_, "/measuredAt");
  if (map_.identify != Identify::PatientAndTime || patient == nullptr || moment == nullptr) return;
  const Value& first = patient->asArray()->front();
  const Instant utc{parseInstant(*moment->asString())->utc, 0};
  UuidMaker maker(kUrlNamespace);
  const Uuid uuid = maker.make(map_.base + "|" + std::string(first.text("system")) + "|" +
                               std::string(first.text("value")) + "|" + footbridge::text(utc));
  put("/identifier",
      Value(Object{{"system", Value(map_.base + "/assessments")},
                   {"value", Value(std::string(view(uuid)))}}),
      place());
}

void putDefaults(Value& root, const SourceMap& map) {
  const Object* defaults = map.defaults.asObject();
  if (defaults == nullptr) return;
  for (const auto& [name, value] : *defaults) {
    const std::string pointer = "/" + name;
    const Value* said = valueAt(root, pointer);
    if (said == nullptr) {
      putAt(root, pointer, value);
      continue;
    }
    for (const std::string& part : missingParts(name, *said, value)) {
      putAt(root, json::child(pointer, part), *value.member(part));
    }
  }
}

}  // namespace footbridge::csv
