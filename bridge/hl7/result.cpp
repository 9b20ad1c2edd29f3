#include "hl7/result.hpp"

#include <algorithm>
#include <array>
#include <set>

#include "core/text.hpp"
#include "csv/cell.hpp"
#include "hl7/text.hpp"

namespace footbridge::hl7 {
namespace {

using csv::folded;

constexpr std::array<std::size_t, 5> kFields{3, 20, 5, 6, 5};

bool oneOf(std::string_view word, std::initializer_list<std::string_view> words) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

/// Reads one OBX.
class Result {
 public:
  Result(const Segment& segment, const Context& context, Issues& issues)
      : segment_(segment), context_(context), issues_(issues) {}

  std::optional<csv::Row> row(const std::vector<const Segment*>& notes) {
    csv::Row out;
    out.word = "segment";
    out.number = segment_.number;
    const std::string name = nameOfReading();
    const csv::Target* target = targetOf(name);
    std::string note = noteOf(notes);
    std::optional<std::string> value = valueOf(target, note);
    if (!value) return std::nullopt;
    out.cells = {name, side(target), *std::move(value), unit(), std::move(note)};
    for (const std::size_t field : kFields) out.places.push_back(segment_.place(field));
    if (out.cells[1].empty() || segment_.field(20).empty()) out.places[1] = segment_.place(4);
    return out;
  }

  bool ofThisVisit() {
    const csv::Target* target = targetOf(nameOfReading());
    return target != nullptr && target->role != csv::Role::Ignore &&
           !target->pointer.starts_with("/previous");
  }

 private:
  char mark() const { return context_.message.marks.component; }
  const csv::SourceMap& map() const { return context_.settings.map; }

  std::string text(std::size_t field, std::string_view raw) {
    return context_.text(raw, segment_.place(field), issues_);
  }

  const csv::Target* targetOf(const std::string& name) const {
    const auto found = map().readings.find(folded(name));
    return found == map().readings.end() ? nullptr : &found->second;
  }

  /// The name by which the reading is known: code and system of either triplet, code alone, or its
  /// text; the first code if none is known.
  std::string nameOfReading() {
    std::array<std::string, 6> parts;
    for (std::size_t i = 0; i < parts.size(); ++i) {
      parts[i] = text(3, part(segment_.field(3), mark(), i + 1));
    }
    std::string first = parts[0] + (parts[2].empty() ? "" : "^" + parts[2]);
    for (const std::string& name :
         {first, parts[3] + "^" + parts[5], parts[0], parts[3], parts[1], parts[4]}) {
      if (!name.empty() && targetOf(name) != nullptr) return name;
    }
    return first;
  }

  /// The body site (OBX-20), or a sub-id (OBX-4) that is the word of a side.
  std::string side(const csv::Target* target) {
    std::string site = text(20, part(segment_.field(20), mark(), 1));
    if (!site.empty()) return site;
    std::string sub = text(4, segment_.field(4));
    const std::string word = folded(sub);
    const bool wanted = target != nullptr && target->pointer.find("{side}") != std::string::npos;
    const bool known = map().sides.contains(word) || oneOf(word, {"r", "l", "right", "left"});
    return wanted || known ? sub : std::string{};
  }

  std::string unit() {
    const std::string out = text(6, part(segment_.field(6), mark(), 1));
    return out == "mm[Hg]" ? "mmHg" : out;
  }

  std::string noteOf(const std::vector<const Segment*>& notes) {
    std::string out;
    for (const Segment* note : notes) {
      const std::string words = context_.text(note->field(3), note->place(3), issues_);
      if (!words.empty()) out += (out.empty() ? "" : "\n") + words;
    }
    return out;
  }

  static void say(std::string& note, std::string_view words) {
    note += (note.empty() ? "" : "\n") + std::string(words);
  }

  std::optional<std::string> refuse(std::string_view rule, std::size_t field) {
    context_.remark(issues_, rule, segment_.place(field),
                    {{"value", shortened(printable(segment_.field(field)), 60)}});
    return std::nullopt;
  }

  /// The cell that stands for OBX-5, by OBX-11 and OBX-2. A deleted reading is absent with its
  /// reason, so that it is not merely missing.
  std::optional<std::string> valueOf(const csv::Target* target, std::string& note) {
    const std::string_view status = segment_.field(11);
    const std::string_view raw = segment_.field(5);
    if (status == "D" || raw == "\"\"") {
      say(note, "Withdrawn by the sender (OBX-11 D, or OBX-5 deleted).");
      return "absent:error";
    }
    if (status == "N" && raw.empty()) return "absent:not-asked";
    if (status == "X" && raw.empty()) {
      say(note, "Cannot be obtained (OBX-11 X).");
      return "absent:not-performed";
    }
    if (raw.empty()) return refuse("hl7-value-missing", 5);
    if (raw.find(context_.message.marks.repetition) != std::string_view::npos) {
      return refuse("hl7-repeated", 5);
    }
    return byType(raw, target);
  }

  std::optional<std::string> byType(std::string_view raw, const csv::Target* target) {
    const std::string_view type = segment_.field(2);
    if (type == "NM") return numeric(text(5, raw));
    if (type == "SN") return structured(raw);
    if (oneOf(type, {"CE", "CWE", "CNE", "IS", "ID"})) return coded(raw, target);
    if (oneOf(type, {"ST", "TX", "FT"})) return text(5, raw);
    return refuse("hl7-value-type", 2);
  }

  static std::string numeric(std::string number) {
    if (number.starts_with('+')) number.erase(0, 1);
    if (number.starts_with('.')) number.insert(0, "0");
    return number;
  }

  /// Comparator and one number; ranges and ratios are no readings.
  std::optional<std::string> structured(std::string_view raw) {
    const std::string comparator = text(5, part(raw, mark(), 1));
    const bool plain = part(raw, mark(), 3).empty() && part(raw, mark(), 4).empty();
    if (!plain || !oneOf(comparator, {"", "=", "<", "<=", ">", ">="})) {
      return refuse("hl7-structured", 5);
    }
    return (comparator == "=" ? "" : comparator) + numeric(text(5, part(raw, mark(), 2)));
  }

  /// The code or the text of either triplet, whichever is known first; else the first of them, so
  /// that the message names it.
  std::string coded(std::string_view raw, const csv::Target* target) {
    std::string first;
    for (const std::size_t number : {1U, 2U, 4U, 5U}) {
      std::string word = text(5, part(raw, mark(), number));
      if (word.empty()) continue;
      if (first.empty()) first = word;
      if (target == nullptr || !target->item) return word;
      Issues unheard;
      const csv::CellPlace place{map(), context_.tables, unheard, {}};
      if (csv::readingIn(word, *target, place) || unheard.empty()) return word;
    }
    return first;
  }

  const Segment& segment_;
  const Context& context_;
  Issues& issues_;
};

/// Fields behind the unit that have content and that nothing here reads.
std::vector<std::size_t> unreadFields(const Segment& result) {
  static constexpr std::array<std::size_t, 6> kRead{8, 11, 14, 16, 20, 23};
  std::vector<std::size_t> out;
  for (std::size_t field = 7; field < result.fields.size(); ++field) {
    const bool read = std::find(kRead.begin(), kRead.end(), field) != kRead.end();
    const bool said = !result.field(field).empty() && result.field(field) != "\"\"";
    if (!read && said) out.push_back(field);
  }
  return out;
}

}  // namespace

std::vector<csv::Column> resultColumns() {
  return csv::readingColumns({"OBX-3", "OBX-20", "OBX-5", "OBX-6", "OBX-5"});
}

bool ofThisVisit(const Segment& result, const Context& context) {
  Issues unheard;
  return Result(result, context, unheard).ofThisVisit();
}

void remarkUnread(const std::vector<const Segment*>& segments, const Context& context,
                  Issues& issues) {
  std::set<std::size_t> unread;
  std::string place;
  for (const Segment* segment : segments) {
    if (segment->name != "OBX") continue;
    for (const std::size_t field : unreadFields(*segment)) {
      if (unread.empty()) place = segment->place(field);
      unread.insert(field);
    }
  }
  if (unread.empty()) return;
  std::string names;
  for (const std::size_t field : unread) {
    names += (names.empty() ? "OBX-" : ", OBX-") + std::to_string(field);
  }
  context.remark(issues, "hl7-unread", place, {{"value", names}});
}

std::optional<csv::Row> resultRow(const Segment& result, const std::vector<const Segment*>& notes,
                                  const Context& context, Issues& issues) {
  return Result(result, context, issues).row(notes);
}

}  // namespace footbridge::hl7
