#include "intake/reading.hpp"

#include <algorithm>
#include <array>
#include <cstdlib>

#include "intake/repeats.hpp"
#include "model/rounding.hpp"

namespace footbridge::intake {
namespace {

constexpr std::string_view kMmhg = "mm[Hg]";
constexpr std::string_view kKilopascal = "kPa";
constexpr std::int64_t kLargestPressure = 100'000;  // keeps half millimetres within 32 bits

/// The members of a reading, in the order of memberNames().
enum class Member { Value, Unit, Comparator, Repeats, Finding, Limit, Absent, Grade, Scale, Note };
constexpr std::size_t kMembers = 10;

const std::array<std::string, kMembers>& memberNames() {
  static const std::array<std::string, kMembers> kNames{"value",   "unit",  "comparator", "repeats",
                                                        "finding", "limit", "absent",     "grade",
                                                        "scale",   "note"};
  return kNames;
}

/// The parts of a reading while it is put together.
struct Draft {
  const Node& node;
  const ItemRow& row;
  Reading reading;
  std::array<const json::Value*, kMembers> members{};  ///< nullptr where there is none

  bool has(Member member) const { return members[static_cast<std::size_t>(member)] != nullptr; }
  std::optional<Node> find(Member member) const {
    const auto at = static_cast<std::size_t>(member);
    if (members[at] == nullptr) return std::nullopt;
    return node.named(*members[at], memberNames()[at]);
  }
};

const Tables& tablesOf(const Draft& draft) { return draft.node.context().tables; }

std::string quotedWords(const WordList& list) {
  std::string out;
  for (const WordRow& word : list.words) out += (out.empty() ? "" : ", ") + word.word;
  return out;
}

bool takeWord(Draft& draft, const Node& node, const std::string& text) {
  const WordRow* found = tablesOf(draft).wordOf(draft.row, text);
  if (found == nullptr) {
    node.remark("intake-word",
                {{"value", shortened(text, 60)},
                 {"label", draft.row.label},
                 {"words", quotedWords(*tablesOf(draft).wordList(draft.row.words))}});
    return false;
  }
  draft.reading.content = Word{found->word};
  return true;
}

bool takeMmhg(Draft& draft, const Node& node, const Decimal& value) {
  const Decimal twice{value.digits * 2, value.scale};
  if (!twice.whole()) {
    node.remark("intake-pressure-fraction",
                {{"reading", draft.row.label}, {"value", value.text()}});
    return false;
  }
  draft.reading.content = Pressure{static_cast<std::int32_t>(twice.floor())};
  return true;
}

bool takeKilopascals(Draft& draft, const Node& node, const Decimal& value) {
  if (value.scale > 2) {
    node.remarkNamed("intake-kpa-digits");
    return false;
  }
  if (value.digits < 0) {
    node.remarkNamed("intake-number-negative");
    return false;
  }
  const Pressure pressure = fromKilopascals(value, draft.row.item);
  draft.reading.content = pressure;
  draft.reading.original = value.text() + " kPa";
  node.remark(
      "intake-converted",
      {{"label", draft.row.label}, {"value", draft.reading.original}, {"kept", pressure.text()}});
  return true;
}

bool takeNumber(Draft& draft, const Node& node, std::string_view written, std::string_view unit) {
  const std::optional<Decimal> value = Decimal::parse(written);
  if (!value || std::abs(value->floor()) > kLargestPressure) {
    node.remarkNamed("intake-number");
    return false;
  }
  if (draft.row.kind == Kind::Pressure) {
    return unit == kKilopascal ? takeKilopascals(draft, node, *value)
                               : takeMmhg(draft, node, *value);
  }
  draft.reading.content = *value;
  return true;
}

bool isNumeric(const ItemRow& row) {
  return row.kind == Kind::Pressure || row.kind == Kind::Number;
}

/// Text where a number is due: people type "120/80", "300+" and "NP" into number boxes.
void refuseText(const Draft& draft, const Node& node, const std::string& text) {
  const bool two = text.find('/') != std::string::npos && text.find_first_of("0123456789") == 0;
  node.remark(two ? "intake-two-pressures" : "intake-text-number",
              {{"label", draft.row.label}, {"value", shortened(text, 60)}});
}

/// A bare value or the "value" of an object.
bool takeValue(Draft& draft, const Node& node, std::string_view unit) {
  if (const json::Number* number = node.value().asNumber(); number && isNumeric(draft.row)) {
    return takeNumber(draft, node, number->text, unit);
  }
  if (const std::string* text = node.value().asString()) {
    if (!isNumeric(draft.row)) return takeWord(draft, node, *text);
    refuseText(draft, node, *text);
    return false;
  }
  if (node.value().isNull()) {
    node.remark("intake-null", {{"label", draft.row.label}});
    return false;
  }
  node.remark("intake-type", {{"label", draft.row.label},
                              {"wanted", isNumeric(draft.row) ? "a number" : "one of its words"},
                              {"found", node.value().typeName()}});
  return false;
}

/// The unit of an object's value; nothing and an issue if the item cannot be sent in it.
std::optional<std::string> unitOf(const Draft& draft) {
  const std::optional<Node> unit = draft.find(Member::Unit);
  if (!unit) return draft.row.unit;
  std::optional<std::string> text = unit->text(40);
  if (!text) return std::nullopt;
  const bool pressure = draft.row.kind == Kind::Pressure && *text == kKilopascal;
  if (!draft.row.unit.empty() && (*text == draft.row.unit || pressure)) return text;
  const std::string units = draft.row.kind == Kind::Pressure
                                ? std::string(kMmhg) + " or " + std::string(kKilopascal)
                                : (draft.row.unit.empty() ? "no unit" : draft.row.unit);
  unit->remark("intake-unit", {{"value", *text}, {"label", draft.row.label}, {"units", units}});
  return std::nullopt;
}

bool takeComparator(Draft& draft) {
  const std::optional<Node> node = draft.find(Member::Comparator);
  if (!node) return true;
  const std::optional<std::string> text = node->text(40);
  if (!text) return false;
  for (std::size_t i = 1; i <= static_cast<std::size_t>(Comparator::Greater); ++i) {
    const auto comparator = static_cast<Comparator>(i);
    if (symbol(comparator) != *text) continue;
    draft.reading.comparator = comparator;
    if (isNumeric(draft.row)) return true;
    node->remark("intake-comparator-misplaced");
    return false;
  }
  node->remark("intake-comparator", {{"value", *text}});
  return false;
}

bool takeMeasured(Draft& draft, const Node& value) {
  const std::optional<std::string> unit = unitOf(draft);
  const bool comparator = takeComparator(draft);
  return unit && takeValue(draft, value, *unit) && comparator;
}

constexpr std::size_t kFewestRepeats = 2;
constexpr std::size_t kMostRepeats = 10;

/// One of several repeats: a plain pressure, kept beside their mean, which would hide one that
/// cannot be right.
std::optional<Reading> takeRepeat(const Draft& draft, const Node& node, std::string_view unit) {
  const json::Number* number = node.value().asNumber();
  if (number == nullptr) {
    node.remark("intake-repeats-shape", {{"label", draft.row.label}});
    return std::nullopt;
  }
  Draft one{node, draft.row, {}, {}};
  one.reading.item = draft.reading.item;
  one.reading.side = draft.reading.side;
  if (!takeNumber(one, node, number->text, unit)) return std::nullopt;
  return std::move(one.reading);
}

/// Says what became of the repeats; their figures as sent go along with the reading.
void keepSettled(Draft& draft, const Node& node, const std::string& written) {
  std::vector<Pressure> repeats;
  for (const Reading& one : draft.reading.repeats) {
    repeats.push_back(std::get<Pressure>(one.content));
  }
  const Settled settled = settle(repeats, draft.row.item, tablesOf(draft));
  draft.reading.content = settled.pressure;
  draft.reading.original = "repeats " + written;
  const std::string kept = settled.pressure.text();
  const auto bound = [&](std::string_view rule) {
    return std::to_string(*tablesOf(draft).rule(rule).number("above"));
  };
  if (settled.how == Settling::FirstDropped) {
    constexpr std::string_view kRule = "intake-repeats-first-dropped";
    draft.reading.original += "; the first was left out";
    return node.remark(kRule,
                       {{"label", draft.row.label}, {"bound", bound(kRule)}, {"kept", kept}});
  }
  constexpr std::string_view kDiffer = "intake-repeats-differ";
  const Pressure gap = apart(repeats);
  const bool far = gap > Pressure::mmhg(*tablesOf(draft).rule(kDiffer).number("above"));
  node.remark(far ? kDiffer : "intake-repeats", {{"label", draft.row.label},
                                                 {"repeats", written},
                                                 {"kept", kept},
                                                 {"apart", gap.text()},
                                                 {"bound", bound(kDiffer)}});
}

/// A bound or a finding has no mean.
bool onlyUnit(const Draft& draft) {
  return !draft.has(Member::Comparator) && !draft.has(Member::Limit) && !draft.has(Member::Scale);
}

bool takeRepeats(Draft& draft, const Node& node) {
  const json::Array* list = node.value().asArray();
  const bool fits = draft.row.kind == Kind::Pressure && list != nullptr &&
                    list->size() >= kFewestRepeats && list->size() <= kMostRepeats &&
                    onlyUnit(draft);
  if (!fits) {
    node.remark("intake-repeats-shape", {{"label", draft.row.label}});
    return false;
  }
  const std::optional<std::string> unit = unitOf(draft);
  if (!unit) return false;
  std::vector<Reading>& repeats = draft.reading.repeats;
  std::string written;
  for (std::size_t i = 0; i < list->size(); ++i) {
    std::optional<Reading> repeat = takeRepeat(draft, node.element((*list)[i], i), *unit);
    if (!repeat) continue;
    repeats.push_back(std::move(*repeat));
    written += (written.empty() ? "" : ", ") + (*list)[i].asNumber()->text;
  }
  if (repeats.size() != list->size()) return false;
  keepSettled(draft, node, written + (*unit == kKilopascal ? " kPa" : " mmHg"));
  return true;
}

bool takeLimit(const Draft& draft, Incompressible& out) {
  const std::optional<Node> limit = draft.find(Member::Limit);
  if (!limit) return true;
  const std::optional<std::int32_t> mmhg = limit->wholeFrom(1);
  if (!mmhg) return false;
  out.limit = Pressure::mmhg(*mmhg);
  return true;
}

bool takeFinding(Draft& draft, const Node& node) {
  const std::optional<std::string> text = node.text(40);
  if (!text) return false;
  if (draft.row.kind == Kind::Pressure && *text == "no-signal") {
    if (draft.has(Member::Limit)) {
      draft.node.remark("intake-reading-shape", {{"label", draft.row.label}});
      return false;
    }
    draft.reading.content = NoSignal{};
    return true;
  }
  if (draft.row.kind == Kind::Pressure && *text == "incompressible") {
    Incompressible out;
    if (!takeLimit(draft, out)) return false;
    draft.reading.content = out;
    return true;
  }
  node.remark("intake-finding", {{"value", *text}, {"label", draft.row.label}});
  return false;
}

bool takeAbsence(Draft& draft, const Node& node) {
  const std::optional<std::string> text = node.text(40);
  if (!text) return false;
  for (std::size_t i = 0; i < absentReasons().size(); ++i) {
    if (absentReasons()[i].code != *text) continue;
    draft.reading.content = Absence{static_cast<AbsentReason>(i)};
    return true;
  }
  std::string known;
  for (const auto& reason : absentReasons()) {
    known += (known.empty() ? "" : ", ") + std::string(reason.code);
  }
  node.remark("intake-absent-reason", {{"value", *text}, {"words", known}});
  return false;
}

bool takeGrade(Draft& draft, const Node& node) {
  if (draft.row.kind != Kind::Pulse) {
    node.remark("intake-reading-shape", {{"label", draft.row.label}});
    return false;
  }
  const std::optional<std::int32_t> grade = node.wholeFrom(0);
  const std::optional<Node> name = draft.node.child("scale");
  const std::optional<std::string> text = name ? name->text(40) : std::nullopt;
  if (!grade || !text) return false;
  const PulseScale* scale = tablesOf(draft).pulseScale(*text);
  if (scale == nullptr) {
    name->remark("pulse-scale-unknown", {{"reading", draft.row.label}});
    return false;
  }
  const auto meaning = scale->meaning.find(*grade);
  draft.reading.content = GradedPulse{
      scale->id, *grade, meaning == scale->meaning.end() ? std::string_view{} : meaning->second};
  return true;
}

/// Members that say more about another one and mean nothing without it.
bool hasCompany(const Draft& draft) {
  static constexpr std::array<std::pair<Member, Member>, 4> kPairs{
      {{Member::Unit, Member::Value},
       {Member::Comparator, Member::Value},
       {Member::Limit, Member::Finding},
       {Member::Scale, Member::Grade}}};
  if (draft.has(Member::Repeats)) return true;  // takeRepeats() looks for itself
  return std::all_of(kPairs.begin(), kPairs.end(), [&draft](const auto& pair) {
    return !draft.has(pair.first) || draft.has(pair.second);
  });
}

bool takeNote(Draft& draft) {
  const std::optional<Node> note = draft.find(Member::Note);
  if (!note) return true;
  const std::optional<std::string> text = note->text(4000);
  draft.reading.note = text.value_or("");
  return text.has_value();
}

bool takeObject(Draft& draft) {
  draft.node.sortOut(memberNames(), draft.members);
  static constexpr std::array kSaying{Member::Value, Member::Finding, Member::Absent, Member::Grade,
                                      Member::Repeats};
  const auto count = std::count_if(kSaying.begin(), kSaying.end(),
                                   [&draft](Member member) { return draft.has(member); });
  if (count != 1 || !hasCompany(draft)) {
    draft.node.remark("intake-reading-shape", {{"label", draft.row.label}});
    return false;
  }
  const bool noted = takeNote(draft);
  if (const auto value = draft.find(Member::Value)) return takeMeasured(draft, *value) && noted;
  if (const auto finding = draft.find(Member::Finding))
    return takeFinding(draft, *finding) && noted;
  if (const auto absent = draft.find(Member::Absent)) return takeAbsence(draft, *absent) && noted;
  if (const auto grade = draft.find(Member::Grade)) return takeGrade(draft, *grade) && noted;
  return takeRepeats(draft, *draft.find(Member::Repeats)) && noted;
}

}  // namespace

std::optional<Reading> readReading(const Node& node, const ItemRow& row, Side side) {
  Draft draft{node, row, {}, {}};
  draft.reading.item = row.item;
  draft.reading.side = side;
  const bool good =
      node.value().asObject() != nullptr ? takeObject(draft) : takeValue(draft, node, row.unit);
  if (!good) return std::nullopt;
  return std::move(draft.reading);
}

}  // namespace footbridge::intake
