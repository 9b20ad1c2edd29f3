#include "csv/guess.hpp"

#include <algorithm>

#include "core/text.hpp"

namespace footbridge::csv {
namespace {

constexpr std::string_view kNhs = "https://fhir.nhs.uk/Id/nhs-number";

std::string listed(const std::vector<std::string>& words) {
  std::string out;
  for (const std::string& word : words) out += (out.empty() ? "\"" : ", \"") + word + "\"";
  return out;
}

bool hasTime(const SampleColumn& column) {
  const std::vector<std::string> patterns = patternsFor(column.cells);
  if (patterns.empty()) return false;
  const DatePattern pattern = *DatePattern::of(patterns.front());
  return std::any_of(column.cells.begin(), column.cells.end(), [&](const std::string& cell) {
    std::string_view rest;
    pattern.read(cell, rest);
    rest = trimmed(rest);
    if (rest.starts_with('T')) rest.remove_prefix(1);
    return !rest.empty() && !rest.starts_with("00:00") && readTime(rest.substr(0, 5)).has_value();
  });
}

std::string sided(const std::string& path, const HeadingRow* side) {
  return fill(path, {{"side", side == nullptr ? "{side}" : std::string_view(side->means)}});
}

bool wantsSide(const std::string& path) { return path.find("{side}") != std::string::npos; }

}  // namespace

const ItemRow* Guesser::item(const std::string& path) const {
  const std::optional<Target> target = places_.find(path);
  return target && target->role == Role::Reading ? &tables_.row(*target->item) : nullptr;
}

std::string Guesser::kindOf(const ItemRow& row) {
  return row.words.empty() ? "pressure" : row.words;
}

bool Guesser::anyWordOf(const SampleColumn& column, const std::string& list) const {
  return std::any_of(column.cells.begin(), column.cells.end(), [&](const std::string& cell) {
    const HeadingRow* row = words_.cell(folded(cell), list);
    const auto& known = tables_.wordList(list)->words;
    return (row != nullptr && row->kind == list) ||
           std::any_of(known.begin(), known.end(),
                       [&](const WordRow& word) { return folded(word.word) == folded(cell); });
  });
}

/// The path below a leg for an artery or level, by what the heading calls it and the cells hold.
std::string Guesser::artery(const std::string& place, const SampleColumn& column,
                            std::string kind) const {
  const auto path = [&place](const std::string& of) { return "legs.{side}." + of + "." + place; };
  if (kind == "exercise" || kind == "segments") return path(kind);
  if (column.mostlyNumbers()) {
    for (const std::string of : {"ankle", "segments"}) {
      if (kind != "pulses" && item(path(of)) != nullptr) return path(of);
    }
  }
  if (kind.empty() && anyWordOf(column, "doppler")) kind = "doppler";
  if (kind.empty() && anyWordOf(column, "pulse")) kind = "pulses";
  return path(kind.empty() ? "?" : kind);
}

void Guesser::findArtery(Guess& guess, const HeadingParts& parts) const {
  const HeadingRow* kind = parts.first("kind");
  const bool after = std::any_of(parts.rows.begin(), parts.rows.end(), [](const HeadingRow* row) {
    return row->part == "kind" && row->means == "exercise";
  });
  std::string of = kind == nullptr ? "" : kind->means;
  if (parts.contradicts("kind")) of = "";
  const std::string path =
      artery(parts.first("place")->means, *guess.column, after ? "exercise" : of);
  if (item(path) == nullptr) {
    guess.leaveOut("a pressure, a Doppler signal or a pulse of the " + parts.first("place")->means +
                   "?");
    return;
  }
  guess.path = path;
  if (of == "doppler" && path.find(".doppler.") == std::string::npos) {
    guess.doubts.emplace_back("taken as a pressure because the cells are numbers");
  }
}

void Guesser::findPath(Guess& guess, const HeadingParts& parts) const {
  const HeadingRow* field = parts.first("field");
  const HeadingRow* weak = parts.first("weak");
  if (parts.contradicts("field") || parts.contradicts("place") ||
      (field != nullptr && parts.first("place") != nullptr && wantsSide(field->means))) {
    guess.leaveOut("the heading names two things");
  } else if (field != nullptr) {
    guess.path = field->means;
    guess.system = field->system;
    const HeadingRow* kind = parts.first("kind");
    const bool after = kind != nullptr && kind->means == "exercise";
    if (after && guess.path == "arms.{side}.systolic") guess.path += "AfterExercise";
  } else if (parts.first("place") != nullptr) {
    findArtery(guess, parts);
  } else if (weak != nullptr && parts.contradicts("weak")) {
    const bool both = std::all_of(parts.rows.begin(), parts.rows.end(), [](const HeadingRow* row) {
      return row->part != "weak" || row->means.starts_with("measuredAt");
    });
    if (!both) return guess.leaveOut("the heading names two things");
    guess.path = "measuredAt";
  } else if (weak != nullptr) {
    guess.path = weak->means;
    guess.doubts.emplace_back("is that what \"" + guess.column->name + "\" means here?");
  } else if (parts.first("note") != nullptr) {
    guess.path = "note";
  } else {
    guess.leaveOut("what is this?");
  }
}

void Guesser::checkCells(Guess& guess) const {
  const std::vector<std::string>& cells = guess.column->cells;
  if (guess.path.starts_with("measuredAt") && guess.path != "measuredAt.time" &&
      hasTime(*guess.column)) {
    guess.path = "measuredAt";
  } else if (guess.path == "measuredAt") {
    guess.path = "measuredAt.date";
  }
  if (guess.path == "patient.identifiers") {
    const bool nhs = allNhsNumbers(cells);
    if (nhs) guess.system = kNhs;
    if (!nhs && guess.system == kNhs && !cells.empty()) {
      guess.doubts.emplace_back("not every cell is a valid NHS number");
    }
  }
  const bool comma = std::all_of(cells.begin(), cells.end(), [](const std::string& cell) {
    return cell.find(',') != std::string::npos;
  });
  if (guess.path == "patient.name" && !comma) {
    guess.leaveOut("family and given name cannot be told apart without a comma");
  }
  const ItemRow* row = item(guess.path);
  if (row != nullptr && row->kind == Kind::Pulse && guess.column->mostlyNumbers()) {
    guess.leaveOut("graded pulses need their scale: { to = \"" + guess.path +
                   "\", scale = \"0-3\" }");
  }
}

Guess Guesser::common(const SampleColumn& column, const HeadingParts& parts) const {
  Guess out;
  out.column = &column;
  out.fused = parts.fused;
  if (const HeadingRow* ignore = parts.first("ignore")) {
    out.reason = ignore->means;
    return out;
  }
  findPath(out, parts);
  if (out.path == "ignore") return out;
  if (parts.contradicts("side")) {
    out.leaveOut("both sides are named");
    return out;
  }
  const HeadingRow* side = parts.first("side");
  if (side != nullptr && !wantsSide(out.path)) {
    out.doubts.emplace_back("the heading names a side and this has none");
  }
  out.path = sided(out.path, side);
  if (const HeadingRow* unit = parts.first("unit")) out.unit = unit->means;
  if (!parts.unexplained.empty()) {
    out.doubts.push_back("what does " + listed(parts.unexplained) + " add?");
  }
  checkCells(out);
  const bool noted = parts.first("note") != nullptr && out.path != "note";
  if (noted && item(out.path) != nullptr) out.path += ".note";
  return out;
}

Guess Guesser::column(const SampleColumn& column) const {
  Guess out = common(column, words_.read(column.name));
  if (wantsSide(out.path)) out.leaveOut("no side in the heading: which of " + out.path + "?");
  return out;
}

Guess Guesser::reading(const SampleColumn& values) const {
  Guess out = common(values, words_.read(values.name));
  if (out.path != "ignore" && item(out.path) == nullptr) {
    out.leaveOut("not a reading: what is this?");
  }
  return out;
}

}  // namespace footbridge::csv
