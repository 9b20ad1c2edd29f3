#include "csv/draft.hpp"

#include <algorithm>
#include <set>

#include "csv/cell.hpp"
#include "csv/draft_text.hpp"
#include "csv/guess.hpp"

namespace footbridge::csv {
namespace {

/// More words than these are free text.
constexpr std::size_t kMostWords = 12;

std::string among(const std::string& column) { return "in column '" + column + "': "; }

/// The draft while it is put together.
class Drafter {
 public:
  Drafter(const Sample& sample, const Tables& tables)
      : sample_(sample),
        tables_(tables),
        words_(tables),
        places_(tables),
        guesser_(tables, words_, places_) {
    plain_.decimals = sample.decimalComma ? Decimals::Comma : Decimals::Point;
  }

  Draft draft(std::string_view name);

 private:
  void layOut();
  void nameReadings(const SampleColumn& items, const SampleColumn& values);
  void keepOneEach();
  void pairSides();
  void findUnits();
  void findDates();
  void findWords(Guess& guess);
  void settleWord(Guess& guess, const std::string& cell, const ItemRow* row);
  bool understood(const std::string& cell, const std::string& path) const;
  const Guess* at(std::string_view path) const;
  std::vector<Guess*> pressures();

  const Sample& sample_;
  const Tables& tables_;
  const HeadingWords words_;
  const Places places_;
  const Guesser guesser_;
  SourceMap plain_;
  std::vector<SampleColumn> values_;  ///< rows of one reading: the values of each name
  Draft draft_;
};

const Guess* Drafter::at(std::string_view path) const {
  const auto found = std::find_if(draft_.columns.begin(), draft_.columns.end(),
                                  [path](const Guess& guess) { return guess.path == path; });
  return found == draft_.columns.end() ? nullptr : &*found;
}

/// One row an assessment, unless one column names readings and another holds their values.
void Drafter::layOut() {
  for (const SampleColumn& column : sample_.columns) {
    draft_.columns.push_back(guesser_.column(column));
  }
  const Guess* items = at("reading.item");
  const Guess* values = at("reading.value");
  draft_.rowIsReading = items != nullptr && values != nullptr;
  if (draft_.rowIsReading) return nameReadings(*items->column, *values->column);
  for (Guess& guess : draft_.columns) {
    if (guess.path.starts_with("reading.")) guess.leaveOut("what is this?");
  }
}

void Drafter::nameReadings(const SampleColumn& items, const SampleColumn& values) {
  // Blank cells were left out, so the two can be paired only if neither has any.
  const bool paired = items.cells.size() == values.cells.size();
  std::map<std::string, std::size_t> index;
  for (std::size_t i = 0; i < items.cells.size(); ++i) {
    const auto [found, added] = index.emplace(items.cells[i], values_.size());
    if (added) values_.push_back({items.cells[i], {}});
    if (paired) values_[found->second].cells.push_back(values.cells[i]);
  }
  const bool sideColumn = at("reading.side") != nullptr;
  for (const SampleColumn& column : values_) {
    Guess guess = guesser_.reading(column);
    if (!sideColumn && guess.path.find("{side}") != std::string::npos) {
      guess.leaveOut("no side in the name, and no column for it");
    }
    draft_.readings.push_back(std::move(guess));
  }
  for (Guess& guess : draft_.columns) {
    if (guess.path.starts_with("reading.")) guess.doubts.clear();
    if (guess.path != "note") continue;
    guess.path = "reading.note";
    guess.doubts.emplace_back("of the reading, or of the visit (note)?");
  }
}

/// Two columns for one place: the second is left out, and both are in doubt.
void Drafter::keepOneEach() {
  std::map<std::string, Guess*> taken;
  for (Guess& guess : draft_.columns) {
    const bool many = guess.path == "ignore" || guess.path == "note" ||
                      guess.path == "patient.identifiers" || guess.path == "patient.given";
    if (many) continue;
    const auto [found, added] = taken.emplace(guess.path, &guess);
    if (added) continue;
    found->second->doubts.push_back("or is it column '" + guess.column->name + "'?");
    guess.leaveOut("or is this " + guess.path + "?");
  }
}

/// "RDP" is surely right if there is an "LDP" too.
void Drafter::pairSides() {
  for (Guess& guess : draft_.columns) {
    if (!guess.fused || guess.path == "ignore") continue;
    std::string other = guess.path;
    const bool right = other.find(".right.") != std::string::npos;
    const std::size_t where = other.find(right ? ".right." : ".left.");
    if (where == std::string::npos) continue;
    other.replace(where, right ? 7 : 6, right ? ".left." : ".right.");
    if (at(other) == nullptr) guess.doubts.emplace_back("is the first letter the side?");
  }
}

std::vector<Guess*> Drafter::pressures() {
  std::vector<Guess*> out;
  for (std::vector<Guess>* list : {&draft_.columns, &draft_.readings}) {
    for (Guess& guess : *list) {
      const ItemRow* row = guesser_.item(guess.path);
      if (row != nullptr && row->kind == Kind::Pressure) out.push_back(&guess);
    }
  }
  return out;
}

/// No arm has a pressure below 40 mmHg that a clinic would record, and none one above 40 kPa
/// (mapping/items.json, limits of arm.systolic).
void Drafter::findUnits() {
  constexpr std::size_t kBorder = 40;
  std::size_t highest = 0;
  for (const Guess* guess : pressures()) {
    if (guess->path.starts_with("arms.")) highest = std::max(highest, guess->column->largest());
  }
  const bool kilopascals = highest > 0 && highest < kBorder;
  for (Guess* guess : pressures()) {
    const bool low = guess->column->largest() > 0 && guess->column->largest() < kBorder;
    const bool stated = !guess->unit.empty();
    if (kilopascals && !stated) {
      guess->unit = "kPa";
      guess->doubts.emplace_back("all figures are below 40, as in kPa");
    } else if (low && guess->unit != "kPa") {
      guess->doubts.emplace_back("all figures are below 40: mmHg, or kPa?");
    }
  }
}

void Drafter::findDates() {
  for (Guess& guess : draft_.columns) {
    const bool dated = guess.path == "measuredAt" || guess.path == "measuredAt.date" ||
                       guess.path == "patient.birthDate" || guess.path == "issuedAt";
    if (!dated) continue;
    const std::vector<std::string> fitting = patternsFor(guess.column->cells);
    guess.date = fitting.empty() ? "dd/mm/yyyy" : fitting.front();
    if (fitting.empty()) guess.doubts.emplace_back("the way of writing days was not made out");
    if (fitting.size() > 1) guess.doubts.push_back("or is it " + fitting[1] + "?");
    if (guess.path == "patient.birthDate" && DatePattern::of(guess.date)->twoDigitYear()) {
      guess.leaveOut("years of two digits leave the century of birth open");
    }
  }
}

bool Drafter::understood(const std::string& cell, const std::string& path) const {
  std::optional<Target> target = places_.find(path);
  if (!target || target->role != Role::Reading) return true;
  Issues issues;
  readingIn(cell, *target, {plain_, tables_, issues, ""});
  return issues.empty();
}

void Drafter::settleWord(Guess& guess, const std::string& cell, const ItemRow* row) {
  const std::string kind = row != nullptr                   ? Guesser::kindOf(*row)
                           : guess.path == "patient.gender" ? "gender"
                                                            : "status";
  const HeadingRow* meaning = words_.cell(folded(cell), kind);
  // Only readings can be absent.
  if (row == nullptr && meaning != nullptr && meaning->kind != kind) meaning = nullptr;
  const bool shared = kind == "pressure" || kind == "doppler" || kind == "pulse";
  const bool vague = meaning != nullptr && !meaning->doubt.empty();
  const bool finding = vague && (meaning->clinical || kind == "pulse" || kind == "doppler");
  if (shared) {
    draft_.addWord({cell, meaning == nullptr ? "\"\"" : meaning->means,
                    meaning == nullptr ? among(guess.column->name) + "what does it stand for?"
                    : vague            ? among(guess.column->name) + meaning->doubt
                                       : "",
                    meaning == nullptr || finding});
  } else if (meaning == nullptr || finding) {
    guess.doubts.push_back("what does \"" + cell + "\" stand for?");
  } else {
    guess.words.emplace(folded(printable(cell)), meaning->means);
    if (vague) guess.doubts.push_back("\"" + cell + "\": " + meaning->doubt);
  }
}

void Drafter::findWords(Guess& guess) {
  const bool head = guess.path == "patient.gender" || guess.path == "status";
  const ItemRow* row = guesser_.item(guess.path);
  if (row == nullptr && !head) return;
  const std::vector<std::string_view> own{"female",  "male",  "other",
                                          "unknown", "final", "preliminary"};
  std::set<std::string> strange;
  for (const std::string& cell : guess.column->cells) {
    const bool known = head ? std::find(own.begin(), own.end(), folded(cell)) != own.end()
                            : understood(cell, guess.path);
    if (!known) strange.insert(cell);
  }
  const bool numeric = row != nullptr && row->words.empty();
  if (strange.size() > kMostWords && !(numeric && guess.column->mostlyNumbers())) {
    guess.leaveOut("the cells are free text and " + guess.path + " is not");
    return;
  }
  for (const std::string& cell : strange) settleWord(guess, cell, row);
}

Draft Drafter::draft(std::string_view name) {
  draft_.name = name;
  draft_.sample = &sample_;
  layOut();
  keepOneEach();
  pairSides();
  findUnits();
  findDates();
  for (Guess& guess : draft_.columns) findWords(guess);
  for (Guess& guess : draft_.readings) findWords(guess);
  return std::move(draft_);
}

}  // namespace

Result<std::string> draftMap(std::istream& in, std::string_view name, const Tables& tables) {
  const Result<Sample> sample = readSample(in, issue(tables.rule("intake-nothing"), ""));
  if (!sample) return sample.issues();
  return textOf(Drafter(*sample, tables).draft(name));
}

}  // namespace footbridge::csv
