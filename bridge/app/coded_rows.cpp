#include "app/coded_rows.hpp"

#include <algorithm>

#include "core/digest.hpp"
#include "package/sheet.hpp"
#include "package/wording.hpp"

namespace footbridge::app {
namespace {

enum Column : std::uint8_t {
  kVisit,
  kPatient,
  kMeasured,
  kStatus,
  kKind,
  kCode,
  kLabel,
  kLoinc,
  kSnomed,
  kSide,
  kSite,
  kMethod,
  kComparator,
  kValue,
  kUnit,
  kAnswer,
  kAbsent,
  kRuleSet
};
static_assert(kRuleSet + 1 == kColumns.size());

std::string_view codeOf(AbsentReason reason) {
  return absentReasons()[static_cast<std::size_t>(reason)].code;
}

std::string_view standardCode(const Concept& what, std::string_view system) {
  for (const Coding& coding : what.codings) {
    if (coding.verified && coding.system == system) return coding.code;
  }
  return {};
}

std::string_view siteOf(const std::array<std::string, 2>& sites, Side side) {
  return side == Side::None ? std::string_view{} : sites[static_cast<std::size_t>(side)];
}

/// Puts what a reading holds into its row.
struct Content {
  CodedRow& row;
  const Reading& reading;
  const Tables& tables;

  void operator()(const Pressure& value) const { figure(value.text()); }
  void operator()(const Decimal& value) const { figure(value.text()); }
  void operator()(const Word& word) const { answer(word.text); }
  void operator()(const GradedPulse& pulse) const {
    row[kValue] = std::to_string(pulse.grade);
    row[kRuleSet] = pulse.scale;
    if (!pulse.word.empty()) answer(pulse.word);
  }
  void operator()(const Incompressible& hard) const {
    row[kAnswer] = "incompressible";
    if (!hard.limit) return;
    row[kComparator] = ">";
    row[kValue] = hard.limit->text();
    row[kUnit] = tables.row(reading.item).unit;
  }
  void operator()(const NoSignal&) const { row[kAnswer] = "no-signal"; }
  void operator()(const Absence& absence) const { row[kAbsent] = codeOf(absence.reason); }

 private:
  void figure(std::string digits) const {
    row[kComparator] = symbol(reading.comparator);
    row[kValue] = std::move(digits);
    row[kUnit] = tables.row(reading.item).unit;
  }
  void answer(std::string_view word) const {
    const WordRow* found = tables.wordOf(tables.row(reading.item), word);
    row[kAnswer] = found == nullptr ? std::string(word) : found->concept_id;
  }
};

/// The rows of one visit, which share their first cells.
class Visit {
 public:
  Visit(const Outcome& outcome, const Tables& tables, CodedRow shared)
      : assessment_(outcome.assessment), tables_(tables), shared_(std::move(shared)) {}

  void add(const Reading& reading) {
    const ItemRow& table = tables_.row(reading.item);
    if (table.concept_id.empty()) return;
    CodedRow& row = start("reading", table.concept_id, reading.side);
    if (reading.item == Item::ToePressure) {
      row[kSite] = package::toeSite(assessment_, reading.side);
      row[kMethod] = package::toeMethod(assessment_, reading.side);
    } else {
      row[kSite] = siteOf(table.site, reading.side);
      row[kMethod] = table.method;
    }
    std::visit(Content{row, reading, tables_}, reading.content);
  }

  /// Of those that are missing only the two that every leg is asked for.
  void add(const Index& index) {
    const bool main = index.kind == IndexKind::Abi || index.kind == IndexKind::Tbi;
    if (!shown(index.side) || !(main || index.present())) return;
    const IndexRow& table = tables_.row(index.kind);
    CodedRow& row = start("index", package::conceptOf(table, index.side), index.side);
    row[kSite] = index.kind == IndexKind::Tbi ? package::toeSite(assessment_, index.side)
                                              : siteOf(table.site, index.side);
    if (!index.present()) {
      row[kAbsent] = codeOf(index.reason);
      return;
    }
    row[kUnit] = table.unit;
    row[kValue] = index.hundredths   ? hundredthsText(*index.hundredths)
                  : index.difference ? index.difference->text()
                                     : tenthsText(*index.tenths);
  }

  void add(const Grade& grade) {
    if (!shown(grade.side)) return;
    CodedRow& row = start("grade", std::string(grade.scheme), grade.side);
    row[kRuleSet] = grade.ruleSet;
    row[kAnswer] = grade.outcome;
    if (!grade.present()) row[kAbsent] = codeOf(grade.reason);
  }

  void add(const Flag& flag) {
    CodedRow& row = start("flag", "reliability-flag", flag.side);
    row[kRuleSet] = flag.rule;
  }

  std::vector<CodedRow> take() { return std::move(rows_); }

 private:
  /// What is derived of a leg that nobody looked at says nothing.
  bool shown(Side side) const { return side == Side::None || package::examined(assessment_, side); }

  CodedRow& start(std::string_view kind, const std::string& code, Side side) {
    CodedRow& row = rows_.emplace_back(shared_);
    row[kKind] = kind;
    row[kCode] = code;
    row[kSide] = word(side);
    const Concept* what = tables_.concept_(code);
    if (what == nullptr) return row;
    row[kLabel] = what->label;
    row[kLoinc] = standardCode(*what, "http://loinc.org");
    row[kSnomed] = standardCode(*what, "http://snomed.info/sct");
    return row;
  }

  const Assessment& assessment_;
  const Tables& tables_;
  CodedRow shared_;
  std::vector<CodedRow> rows_;
};

}  // namespace

std::vector<CodedRow> RowMaker::rowsOf(const Outcome& outcome) const {
  const Assessment& a = outcome.assessment;
  const auto pseudonym = [this](std::string_view of, const Identifier& id) {
    std::string name(of);
    for (const std::string* part : {&id.system, &id.value}) (name += '\0') += *part;
    return hex(sealer_.keyedHash(name));
  };
  CodedRow shared;
  shared[kVisit] = pseudonym("visit", a.identifier);
  if (!a.patient.identifiers.empty()) {
    shared[kPatient] =
        pseudonym("patient", package::mainIdentifier(a.patient, *tables_.realm("base")));
  }
  shared[kMeasured] = text(a.measuredAt).substr(0, 10);
  shared[kStatus] = word(a.status);
  Visit visit(outcome, tables_, std::move(shared));
  for (const Reading& reading : a.readings) visit.add(reading);
  for (const Index& index : outcome.findings.indices) visit.add(index);
  for (const Grade& grade : outcome.findings.grades) visit.add(grade);
  for (const Flag& flag : outcome.findings.flags) visit.add(flag);
  return visit.take();
}

}  // namespace footbridge::app
