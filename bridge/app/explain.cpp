#include <algorithm>
#include <ostream>

#include "app/commands.hpp"
#include "app/inputs.hpp"
#include "app/report.hpp"
#include "package/wording.hpp"

namespace footbridge::app {
namespace {

/// Prints the findings that concern an item, or all of them.
class Explainer {
 public:
  Explainer(const ExplainOptions& options, World& world, const Outcome& outcome)
      : options_(options), world_(world), outcome_(outcome) {}

  void print() {
    for (const Index& index : outcome_.findings.indices) printIndex(index);
    for (const Grade& grade : outcome_.findings.grades) printGrade(grade);
    for (const Flag& flag : outcome_.findings.flags) printFlag(flag);
  }
  bool printed() const { return printed_; }

 private:
  bool wanted(std::string_view name, const std::vector<ReadingRef>& inputs) const {
    if (options_.item.empty() || options_.item == name) return true;
    return std::any_of(inputs.begin(), inputs.end(),
                       [this](const ReadingRef& ref) { return id(ref.item) == options_.item; });
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

  void printIndex(const Index& index) {
    if (!wanted(id(index.kind), index.inputs)) return;
    const IndexRow& row = world_.tables.row(index.kind);
    title(package::named(row.label, index.side) + ": " + package::spoken(index, world_.tables));
    if (index.ratio) {
      line("arithmetic", Pressure{static_cast<std::int32_t>(index.ratio->num)}.text() + " / " +
                             Pressure{static_cast<std::int32_t>(index.ratio->den)}.text() + " = " +
                             package::spoken(index, world_.tables) + ", rounded half up once");
    }
    line("method", index.method);
    printInputs(index.inputs, {});
    if (index.present()) line("source", row.source.text + " (" + row.source.certainty + ")");
    printRemarks(index.remarks);
  }

  void printGrade(const Grade& grade) {
    const bool band = grade.scheme == "abi-band" || grade.scheme == "tbi-band";
    if (band && grade.ruleSet != options_.ruleSet) return;
    if (!wanted(grade.scheme, grade.inputs)) return;
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
  }

  /// The class as its source words it, with the edges.
  std::string wording(const Grade& grade) const {
    const RuleSet* set = world_.tables.ruleSet(grade.ruleSet);
    if (set == nullptr) return {};
    for (const std::vector<Band>* bands : {&set->abi, &set->tbi}) {
      for (const Band& band : *bands) {
        if (band.id == grade.rule) return band.wording;
      }
    }
    return {};
  }

  void printFlag(const Flag& flag) {
    if (!wanted(flag.rule, flag.inputs)) return;
    title(flag.text);
    line("rule", flag.rule);
    printInputs(flag.inputs, flag.indices);
    const Source& source = world_.tables.rule(flag.rule).source;
    line("source", source.text + " (" + source.certainty + ")");
  }

  const ExplainOptions& options_;
  World& world_;
  const Outcome& outcome_;
  bool printed_ = false;
};

}  // namespace

int explain(const ExplainOptions& options, World& world) {
  bool found = false;
  const Tally tally =
      forEachOutcome(options.input, world, [&](const intake::Text&, const Outcome& outcome) {
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
