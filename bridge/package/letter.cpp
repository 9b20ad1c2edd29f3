#include "package/letter.hpp"

#include <array>

#include "package/summary.hpp"
#include "package/summary_leg.hpp"
#include "package/wording.hpp"

namespace footbridge::package {
namespace {

/// Without colours that say how bad something is: the words do.
constexpr std::string_view kBegin = R"(<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>Lower-limb arterial assessment</title>
<style>
body { font: 11pt/1.45 system-ui, sans-serif; color: #111; background: #fff; margin: 0; }
article { max-width: 46rem; margin: 0 auto; padding: 2rem 1.5rem; }
article + article { border-top: 1px solid #999; }
h1 { font-size: 1.5rem; margin: 0 0 .5rem; }
h2 { font-size: 1.05rem; margin: 1.25rem 0 .35rem; border-bottom: 2px solid #0b5394; }
.status { border-left: 5px solid #0b5394; padding: .3rem .75rem; background: #f2f5f9; }
dl { display: grid; grid-template-columns: 9rem 1fr; gap: .1rem 1rem; margin: 1rem 0; }
dt { color: #444; }
dd { margin: 0; }
ul { margin: .25rem 0; padding-left: 1.2rem; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th, td { text-align: left; vertical-align: top; padding: .25rem .6rem .25rem 0; border-bottom: 1px solid #bbb; }
th[scope=row] { font-weight: normal; }
footer { margin-top: 1.5rem; font-size: .85rem; color: #444; }
@media print {
  article { padding: 0; max-width: none; }
  article + article { border-top: 0; break-before: page; }
  h2, tr, li { break-inside: avoid; }
  h2 { break-after: avoid; }
}
</style>
</head>
<body>
)";

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      default:
        out += c;
    }
  }
  return out;
}

std::string element(std::string_view name, std::string_view text) {
  return "<" + std::string(name) + ">" + escaped(text) + "</" + std::string(name) + ">\n";
}

/// Who and when; what was not sent has no line, but for what tells one patient from another.
std::string head(const Assessment& a) {
  std::string out = "<dl>\n";
  const auto line = [&out](std::string_view title, const std::string& text) {
    if (!text.empty()) out += element("dt", title) + element("dd", text);
  };
  line("Patient", nameOf(a.patient, "(no family name was sent)"));
  line("Born", a.patient.birthDate ? footbridge::spoken(*a.patient.birthDate) : "not sent");
  line("Gender", a.patient.gender.empty() ? "not sent" : a.patient.gender);
  for (const Identifier& id : a.patient.identifiers) {
    line("Number", id.value + " (" + id.system + ")");
  }
  line("Measured", footbridge::spoken(a.measuredAt));
  const bool withdrawn = a.status == Status::EnteredInError;
  line(withdrawn ? "Withdrawn by" : "By",
       nameOf(a.performer) + (a.performerRole.empty() ? "" : ", " + a.performerRole));
  line("At", nameOf(a.organization));
  line("Assessment", a.identifier.value + ", revision " + std::to_string(a.revision));
  if (a.replaces) line("Replaces", a.replaces->value + ", which is withdrawn");
  if (a.order) line("Order", a.order->value);
  return out + "</dl>\n";
}

std::string partOf(const SummaryPart& part) {
  std::string out = element("h2", part.title) + "<ul>\n";
  for (const std::string& line : part.lines) out += element("li", line);
  return out + "</ul>\n";
}

/// A pressure of the table; those that few clinics take have no row where they were not taken.
struct TableRow {
  Item item;
  bool always;
};

constexpr std::array<TableRow, 7> kPressures{{{Item::ArmSystolic, true},
                                              {Item::AnkleDorsalisPedis, true},
                                              {Item::AnklePosteriorTibial, true},
                                              {Item::AnklePeroneal, false},
                                              {Item::AnkleAnteriorTibial, false},
                                              {Item::ToePressure, true},
                                              {Item::Tcpo2, false}}};

/// With what was sent where that was not this figure, so that the page can be held against the
/// paper.
std::string cell(const Reading* reading, const Tables& tables) {
  if (reading == nullptr) return "not recorded";
  std::string out = spoken(*reading, tables);
  if (!reading->original.empty()) out += "; sent as " + reading->original;
  return reading->note.empty() ? out : out + " (" + reading->note + ")";
}

std::string rowOf(std::string_view title, const std::string& right, const std::string& left) {
  return "<tr><th scope=\"row\">" + escaped(title) + "</th>" + element("td", right) +
         element("td", left) + "</tr>\n";
}

/// "0.79, abnormal"; why there is none the leg's own lines say.
std::string indexCell(const LegFindings& leg, IndexKind kind, std::string_view scheme) {
  const Index* index = leg.findings.find(kind, leg.side);
  return index != nullptr && index->present() ? classed(leg, *index, scheme) : "no index";
}

std::string tableOf(const LegFindings& right, const LegFindings& left) {
  const Tables& tables = right.tables;
  std::string out = element("h2", "Pressures and indices; classes by " +
                                      std::string(nameOfRuleSet(tables, right.ruleSet))) +
                    "<table>\n<tr><th scope=\"col\"></th><th scope=\"col\">Right</th>"
                    "<th scope=\"col\">Left</th></tr>\n";
  for (const TableRow& row : kPressures) {
    const Reading* onRight = right.assessment.find(row.item, Side::Right);
    const Reading* onLeft = left.assessment.find(row.item, Side::Left);
    if (!row.always && onRight == nullptr && onLeft == nullptr) continue;
    out += rowOf(tables.row(row.item).label, cell(onRight, tables), cell(onLeft, tables));
  }
  for (const auto& [kind, scheme] : kMainIndices) {
    out += rowOf(tables.row(kind).label, indexCell(right, kind, scheme),
                 indexCell(left, kind, scheme));
  }
  return out + "</table>\n";
}

}  // namespace

std::string lettersBegin() { return std::string(kBegin); }

std::string lettersEnd() { return "</body>\n</html>\n"; }

std::string letterOf(const Assessment& assessment, const Findings& findings, const Issues& issues,
                     const Tables& tables, const LetterOptions& options) {
  std::string out = "<article>\n" + element("h1", "Lower-limb arterial assessment");
  out += "<p class=\"status\">" + escaped(headline(assessment)) + "</p>\n" + head(assessment);
  const auto parts = summarise(assessment, findings, issues, tables, options.ruleSet);
  bool tabled = assessment.status == Status::EnteredInError;
  for (const SummaryPart& part : parts) {
    // After what is said in short, and the flags.
    if (!tabled && part.title != kInShort && part.title != kFlags) {
      out += tableOf({assessment, findings, tables, options.ruleSet, Side::Right},
                     {assessment, findings, tables, options.ruleSet, Side::Left});
      tabled = true;
    }
    out += partOf(part);
  }
  out +=
      "<footer>" + escaped("Made by Footbridge " + options.version +
                           " from the readings as they were sent; tables SHA-256 " + tables.digest +
                           ". Nobody has signed this page. Where it and the record differ, ask "
                           "whoever measured.");
  return out + "</footer>\n</article>\n";
}

}  // namespace footbridge::package
