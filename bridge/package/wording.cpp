#include "package/wording.hpp"

#include <algorithm>
#include <array>

namespace footbridge::package {
namespace {

std::string_view labelOf(const Tables& tables, std::string_view id) {
  const Concept* found = tables.concept_(id);
  return found == nullptr ? id : std::string_view{found->label};
}

std::string_view labelOfWord(const Tables& tables, const ItemRow& row, std::string_view word) {
  const WordRow* found = tables.wordOf(row, word);
  return found == nullptr ? word : std::string_view{found->label};
}

/// Everything that a reading can hold, each in its own words.
struct Speaker {
  const Reading& reading;
  const ItemRow& row;
  const Tables& tables;

  std::string bound() const {
    static constexpr std::array<std::string_view, 5> kWords{"", "below ", "at most ", "at least ",
                                                            "above "};
    return std::string(kWords[static_cast<std::size_t>(reading.comparator)]);
  }
  std::string operator()(const Pressure& value) const {
    return bound() + value.text() + " " + row.unitLabel;
  }
  std::string operator()(const Decimal& value) const {
    return bound() + value.text() + (row.unit == "1" ? "" : " " + row.unitLabel);
  }
  std::string operator()(const Word& value) const {
    return std::string(labelOfWord(tables, row, value.text));
  }
  std::string operator()(const GradedPulse& value) const {
    const std::string written = "grade " + std::to_string(value.grade) + " on the scale " +
                                tables.pulseScale(value.scale)->name;
    if (value.word.empty()) return written + ", whose meaning the scale does not state";
    return std::string(labelOfWord(tables, row, value.word)) + " (" + written + ")";
  }
  std::string operator()(const Incompressible& value) const {
    if (!value.limit) return "artery incompressible";
    return "above " + value.limit->text() + " mmHg, artery incompressible";
  }
  std::string operator()(const NoSignal&) const {
    return row.item == Item::ToePressure ? "no signal" : "no Doppler signal";
  }
  std::string operator()(const Absence& value) const {
    return "no reading, " +
           std::string(absentReasons()[static_cast<std::size_t>(value.reason)].words);
  }
};

constexpr char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; }

bool sameLetters(std::string_view a, std::string_view b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [](char x, char y) { return lower(x) == lower(y); });
}

/// "Normal" as it stands within a sentence; "IIa" stays.
std::string within(std::string_view text) {
  std::string out(text);
  if (out.size() > 1 && lower(out[1]) == out[1]) out[0] = lower(out[0]);
  return out;
}

}  // namespace

std::string beside(std::string_view label, std::string_view said) {
  // From the whole of the label on, word by word from its front, until what is left begins `said`.
  while (!label.empty()) {
    const bool begins = said.size() > label.size() && said[label.size()] == ' ' &&
                        sameLetters(label, said.substr(0, label.size()));
    if (begins) return within(said.substr(label.size() + 1));
    const std::size_t space = label.find(' ');
    label.remove_prefix(space == std::string_view::npos ? label.size() : space + 1);
  }
  return within(said);
}

std::string named(std::string_view label, Side side) {
  std::string out(label);
  if (side != Side::None) (out += ", ") += word(side);
  return out;
}

std::string nameOf(const Party& party) {
  return party.name.empty() && party.identifier ? party.identifier->value : party.name;
}

std::string nameOf(const Patient& patient, std::string_view noFamily) {
  std::string out;
  for (const std::string& given : patient.given) out += given + " ";
  return out += patient.family.empty() ? noFamily : std::string_view(patient.family);
}

std::string_view nameOfRuleSet(const Tables& tables, std::string_view id) {
  const RuleSet* set = tables.ruleSet(id);
  return set == nullptr ? id : std::string_view(set->name);
}

std::string spoken(const Reading& reading, const Tables& tables) {
  return std::visit(Speaker{reading, tables.row(reading.item), tables}, reading.content);
}

std::string told(const Reading& reading, const Tables& tables) {
  const ItemRow& row = tables.row(reading.item);
  const bool arm = reading.item <= Item::ArmSystolicAfterExercise;
  const std::string said = beside(row.label, spoken(reading, tables));
  const std::string& label = arm ? tables.naming(reading.item, reading.side) : row.label;
  const bool figure = std::holds_alternative<Pressure>(reading.content) ||
                      std::holds_alternative<Decimal>(reading.content);
  std::string out;
  out.reserve(label.size() + said.size() + reading.note.size() + 5);
  ((out += label) += figure ? " " : ": ") += said;
  if (!reading.note.empty()) ((out += " (") += reading.note) += ')';
  return out;
}

std::string spoken(const Index& index, const Tables&) {
  if (index.hundredths) return hundredthsText(*index.hundredths);
  if (index.difference) return index.difference->text() + " mmHg";
  if (index.tenths) return tenthsText(*index.tenths) + " %";
  return "no value. " + index.because;
}

std::string_view outcomeLabel(const Grade& grade, const Tables& tables) {
  return labelOf(tables, grade.outcome);
}

std::string spoken(const Grade& grade, const Tables& tables) {
  if (!grade.present()) return "cannot be graded. " + grade.because;
  return std::string(labelOf(tables, grade.outcome));
}

const std::string& conceptOf(const IndexRow& row, Side side) {
  if (side == Side::None) return row.concept_id;
  const std::string& sided = row.concept_by_side[static_cast<std::size_t>(side)];
  return sided.empty() ? row.concept_id : sided;
}

std::string spoken(const Flag& flag) {
  if (flag.side == Side::None) return flag.text;
  return (flag.side == Side::Right ? "Right leg: " : "Left leg: ") + flag.text;
}

std::string shortOutcome(const Grade& grade) {
  if (!grade.present()) return "not graded";
  // Ids of outcomes are scheme, then class: abi-normal, wifi-risk-very-low.
  static constexpr std::array<std::string_view, 9> kPrefixes{"abi-",
                                                             "tbi-",
                                                             "criterion-",
                                                             "wifi-wound-",
                                                             "wifi-ischaemia-",
                                                             "wifi-infection-",
                                                             "wifi-stage-",
                                                             "wifi-risk-",
                                                             "wifi-benefit-"};
  std::string out(grade.outcome);
  for (const std::string_view prefix : kPrefixes) {
    if (out.starts_with(prefix)) out.erase(0, prefix.size());
  }
  std::replace(out.begin(), out.end(), '-', ' ');
  return out;
}

std::string bandOfIndex(const Grade* band) {
  const bool stated = band != nullptr && band->present();
  return stated ? shortOutcome(*band) : "class not stated by this source";
}

std::string_view schemeLabel(const Grade& grade, const Tables& tables) {
  return labelOf(tables, grade.scheme);
}

std::string threat(const Findings& findings, Side side) {
  std::string out;
  for (const std::string_view scheme : {"wifi-wound", "wifi-ischaemia", "wifi-infection"}) {
    const Grade* grade = findings.find(scheme, side);
    out += out.empty() ? "" : "-";
    out += grade != nullptr && grade->present() ? shortOutcome(*grade) : "?";
  }
  return out;
}

CriteriaCount cltiCriteria(const Findings& findings, Side side) {
  CriteriaCount out;
  for (const Grade& grade : findings.grades) {
    if (grade.side != side || !sameText(grade.scheme, "clti-criterion")) continue;
    ++out.all;
    if (grade.outcome == "criterion-met") {
      ++out.reached;
    } else if (grade.outcome != "criterion-not-met") {
      ++out.open;
    }
  }
  return out;
}

bool examined(const Assessment& assessment, Side side) {
  return std::any_of(assessment.readings.begin(), assessment.readings.end(),
                     [side](const Reading& reading) {
                       return reading.side == side && reading.item > Item::ArmSystolicAfterExercise;
                     });
}

bool complains(const Assessment& assessment, Side side) {
  const auto says = [&](Item item, std::string_view none) {
    const std::string_view word = chosenWord(assessment.find(item, side));
    return !word.empty() && word != none;
  };
  return says(Item::RestPain, "absent") || says(Item::Claudication, "absent") ||
         says(Item::WoundDepth, "none") || says(Item::Gangrene, "none");
}

std::string toeSite(const Assessment& assessment, Side side) {
  const std::string_view digit = chosenWord(assessment.find(Item::ToeDigit, side));
  std::string out = "site-";
  if (!digit.empty()) (out += digit) += '-';
  return (out += "toe-") += word(side);
}

std::string_view toeMethod(const Assessment& assessment, Side side) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 3> kMethods{
      {{"photoplethysmography", "method-photoplethysmography"},
       {"laser-doppler", "method-laser-doppler"},
       {"doppler", "method-doppler"}}};
  const std::string_view sensor = chosenWord(assessment.find(Item::ToeSensor, side));
  for (const auto& [name, method] : kMethods) {
    if (name == sensor) return method;
  }
  return {};
}

}  // namespace footbridge::package
