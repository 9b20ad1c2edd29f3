#include <algorithm>
#include <cstdlib>
#include <ostream>
#include <set>

#include "app/commands.hpp"
#include "app/inputs.hpp"
#include "app/report.hpp"
#include "assess/turning.hpp"
#include "core/text.hpp"
#include "package/wording.hpp"

namespace footbridge::app {
namespace {

constexpr std::size_t kTurnsShown = 4;

std::string pressureText(std::int64_t halves) {
  return Pressure{static_cast<std::int32_t>(halves)}.text();
}

/// The quotient cut after four decimals: "0.7179...".
std::string fourDecimals(const Ratio& ratio) {
  constexpr std::int64_t kScale = 10'000;
  const std::int64_t cut = ratio.num * kScale / ratio.den;
  const bool exact = cut * ratio.den == ratio.num * kScale;
  return Decimal{cut, 4}.text() + (exact ? "" : "...");
}

/// Prints the findings that concern an item, or all of them.
class Explainer {
 public:
  Explainer(const ExplainOptions& options, World& world, const Outcome& outcome)
      : options_(options),
        world_(world),
        outcome_(outcome),
        turns_(turningPoints(outcome.assessment, outcome.findings, world.tables)) {}

  void print() {
    const Findings& findings = outcome_.findings;
    for (const Reading& reading : outcome_.assessment.readings) printReading(reading);
    for (const Index& index : findings.indices) printIndex(index);
    for (std::size_t i = 0; i < findings.grades.size(); ++i) {
      printGrade(findings.grades[i], turns_[i]);
    }
    for (const Flag& flag : findings.flags) printFlag(flag);
  }
  bool printed() const { return printed_; }

 private:
  /// What bears the name that was asked for, or was made of a reading or an index that does.
  bool wanted(std::string_view name, const std::vector<ReadingRef>& readings,
              const std::vector<IndexRef>& indices) const {
    if (options_.item.empty() || options_.item == name) return true;
    return std::any_of(readings.begin(), readings.end(),
                       [this](const ReadingRef& ref) { return id(ref.item) == options_.item; }) ||
           std::any_of(indices.begin(), indices.end(),
                       [this](const IndexRef& ref) { return id(ref.kind) == options_.item; });
  }

  void title(const std::string& text) {
    world_.out << "  " << text << '\n';
    printed_ = true;
  }
  void line(std::string_view name, std::string_view text) {
    if (!text.empty()) world_.out << "    " << name << ": " << text << '\n';
  }

  void printInputs(const std::vector<ReadingRef>& readings, const std::vector<IndexRef>& indices) {
    for (const ReadingRef& ref : readings) {
      const Reading* reading = outcome_.assessment.find(ref.item, ref.side);
      if (reading == nullptr) continue;
      line("from", package::named(world_.tables.row(ref.item).label, ref.side) + " = " +
                       package::spoken(*reading, world_.tables));
    }
    for (const IndexRef& ref : indices) {
      const Index* index = outcome_.findings.find(ref.kind, ref.side);
      if (index == nullptr) continue;
      line("from", package::named(world_.tables.row(ref.kind).label, ref.side) + " = " +
                       package::spoken(*index, world_.tables));
    }
  }

  void printRemarks(const std::vector<Remark>& remarks) {
    for (const Remark& remark : remarks) {
      line("remark", remark.text + " [" + std::string(remark.rule) + "]");
    }
  }

  /// Each code with which the thing leaves, and what vouches for it; once for each concept.
  void printCodes(std::string_view conceptId) {
    const Concept* found = world_.tables.concept_(conceptId);
    if (found == nullptr || !coded_.insert(conceptId).second) return;
    for (const Coding& coding : found->codings) {
      if (!coding.verified) continue;
      line("code", coding.system + " " + coding.code +
                       (coding.display.empty() ? "" : " " + coding.display) +
                       " (verified: " + coding.source + ")");
    }
    if (found->local) line("code", "our own: " + found->id + " (" + found->source + ")");
  }

  void printReading(const Reading& reading) {
    if (!options_.item.empty() && options_.item != id(reading.item)) return;
    const ItemRow& row = world_.tables.row(reading.item);
    title(package::named(row.label, reading.side) + ": " + package::spoken(reading, world_.tables));
    line("as sent", reading.original);
    line("note", printable(reading.note));
    printCodes(row.concept_id);
  }

  void printArithmetic(const Index& index) {
    const std::string result = package::spoken(index, world_.tables);
    if (index.ratio && isRatio(index.kind)) {
      line("arithmetic", pressureText(index.ratio->num) + " / " + pressureText(index.ratio->den) +
                             " = " + fourDecimals(*index.ratio) +
                             ", once rounded half up: " + result);
    }
    if (!index.difference || index.inputs.size() != 2) return;
    std::string figures;
    for (const ReadingRef& ref : index.inputs) {
      const Reading* reading = outcome_.assessment.find(ref.item, ref.side);
      const auto* pressure =
          reading == nullptr ? nullptr : std::get_if<Pressure>(&reading->content);
      if (pressure != nullptr) figures += (figures.empty() ? "" : " - ") + pressure->text();
    }
    const bool bare = index.kind == IndexKind::InterArmDifference;
    line("arithmetic", figures + (bare ? ", without sign: " : " = ") + result);
  }

  void printIndex(const Index& index) {
    if (!wanted(id(index.kind), index.inputs, {})) return;
    const IndexRow& row = world_.tables.row(index.kind);
    title(package::named(row.label, index.side) + ": " + package::spoken(index, world_.tables));
    printArithmetic(index);
    line("method", index.method);
    printInputs(index.inputs, {});
    if (index.present()) line("source", row.source.text + " (" + row.source.certainty + ")");
    printRemarks(index.remarks);
    printCodes(package::conceptOf(row, index.side));
  }

  /// Where the result would be another, each reading moved alone; the nearest few.
  void printTurns(const std::vector<Turn>& turns) {
    for (std::size_t i = 0; i < std::min(turns.size(), kTurnsShown); ++i) {
      const Turn& turn = turns[i];
      const Concept* other = world_.tables.concept_(turn.outcome);
      line("would change",
           package::named(world_.tables.row(turn.reading.item).label, turn.reading.side) + " at " +
               package::spoken(turn.reading, world_.tables) + " (" +
               std::to_string(std::abs(turn.steps)) + (turn.steps > 0 ? " higher" : " lower") +
               "): " + (other == nullptr ? "cannot be graded" : other->label));
    }
    if (turns.empty()) {
      line("would change",
           "nothing within " + std::to_string(kTurnReach) + " steps of any single figure");
    }
  }

  void printGrade(const Grade& grade, const std::vector<Turn>& turns) {
    const bool band = grade.scheme == "abi-band" || grade.scheme == "tbi-band";
    if (band && grade.ruleSet != options_.ruleSet) return;
    if (!wanted(grade.scheme, grade.inputs, grade.indices)) return;
    std::string name = package::named(package::schemeLabel(grade, world_.tables), grade.side);
    if (grade.item) name += ", " + world_.tables.row(*grade.item).label;
    title(name + ": " + package::spoken(grade, world_.tables));
    line("rule set", grade.ruleSet);
    line("row", grade.rule);
    line("row says", wording(grade));
    printInputs(grade.inputs, grade.indices);
    if (!grade.source.empty()) {
      line("source", std::string(grade.source) + " (" + std::string(grade.certainty) + ")");
    }
    printRemarks(grade.remarks);
    printTurns(turns);
    printCodes(grade.scheme);
    if (grade.present()) printCodes(grade.outcome);
  }

  /// The class as its source words it, with the edges.
  std::string wording(const Grade& grade) const {
    if (isCriterion(grade)) return std::string(world_.tables.criterionName(grade.ruleSet));
    const Band* band = world_.tables.band(grade.rule);
    return band == nullptr ? std::string{} : band->wording;
  }

  void printFlag(const Flag& flag) {
    if (!wanted(flag.rule, flag.inputs, flag.indices)) return;
    title(package::spoken(flag));
    line("rule", flag.rule);
    printInputs(flag.inputs, flag.indices);
    const Source& source = world_.tables.rule(flag.rule).source;
    line("source", source.text + " (" + source.certainty + ")");
  }

  const ExplainOptions& options_;
  World& world_;
  const Outcome& outcome_;
  std::vector<std::vector<Turn>> turns_;
  std::set<std::string_view> coded_;
  bool printed_ = false;
};

}  // namespace

int explain(const ExplainOptions& options, World& world) {
  bool found = false;
  const Tally tally = forEachOutcome(options.input, world, [&](const Done& done) {
    const Outcome& outcome = done.outcome;
    printVerdict(world.out, outcome);
    for (const Issue& issue : outcome.issues) {
      if (issue.severity != Severity::Information) printIssue(world.out, issue);
    }
    if (outcome.refused()) return;
    Explainer explainer(options, world, outcome);
    explainer.print();
    found = found || explainer.printed();
  });
  if (!options.item.empty() && !found && tally.accepted > 0) {
    world.err << "Nothing here is called " << options.item
              << ": name an item, an index, a scheme or a flag as `explain` prints them.\n";
    return kUsage;
  }
  return tally.exitCode();
}

}  // namespace footbridge::app
