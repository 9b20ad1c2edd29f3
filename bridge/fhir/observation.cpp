#include "fhir/observation.hpp"

#include <algorithm>
#include <map>

#include "core/text.hpp"
#include "fhir/device.hpp"
#include "fhir/value.hpp"

namespace footbridge::fhir {
namespace {

constexpr std::size_t kNamed = 20;  ///< results that one remark names

/// Observation.status as a letter of HL7 table 0085 (HL7/v2-to-fhir, Table HL70085, read
/// backwards); 0 for what is not there to be filed.
char letterOf(std::string_view status) {
  static constexpr std::array<std::pair<std::string_view, char>, 6> kLetters{
      {{"final", 'F'},
       {"preliminary", 'P'},
       {"amended", 'A'},
       {"corrected", 'C'},
       {"cancelled", 'X'},
       {"entered-in-error", 'D'}}};
  const auto found = std::find_if(kLetters.begin(), kLetters.end(),
                                  [status](const auto& row) { return row.first == status; });
  return found == kLetters.end() ? '\0' : found->second;
}

class Reader {
 public:
  Reader(Draft& draft, const Gathered& group, const Entries& entries, const Codes& codes)
      : draft_(draft), group_(group), entries_(entries), codes_(codes) {}

  Rows read() {
    for (const Entry& entry : group_.observations) take(entry);
    reportUnmapped();
    reportComputed();
    return std::move(out_);
  }

 private:
  struct Told {
    std::string place;
    std::size_t count = 0;
  };
  using Tally = std::map<std::string, Told>;

  /// One Observation, or a component with the Observation that it is part of.
  struct Part {
    const json::Value& said;
    const Entry& entry;
    std::string place;
    bool component = false;
  };

  const Tables& tables() const { return codes_.tables(); }

  void take(const Entry& entry) {
    const json::Value& resource = *entry.resource;
    const Part part{resource, entry, entry.place};
    if (changedMeaning(resource)) return draft_.remark("fhir-modifier", part.place);
    if (!resource.list("focus").empty()) return draft_.remark("fhir-focus", part.place + " focus");
    const json::Value* code = resource.member("code");
    const Meaning meaning = codes_.reading(code, resource.member("bodySite"));
    const json::Array& components = resource.list("component");
    const bool panel = !resource.list("hasMember").empty() || !components.empty();
    if (meaning.target != nullptr) {
      takeReading(part, meaning);
    } else if (codes_.computed(code)) {
      if (!panel) note(computed_, withFigure(meaning.name, resource), part);
    } else if (!panel || hasValue(resource)) {
      note(unmapped_, meaning.name, part);
    }
    if (meaning.target != nullptr && meaning.target->role == csv::Role::Ignore) return;
    if (meaning.target == nullptr && !resource.list("hasMember").empty()) {
      out_.panels.push_back(&entry);
      for (const json::Value& each : resource.list("note")) say(out_.note, each.text("text"));
    }
    takeComponents(entry, code);
  }

  static bool changedMeaning(const json::Value& resource) {
    return !resource.list("modifierExtension").empty() ||
           resource.member("implicitRules") != nullptr;
  }

  static bool hasValue(const json::Value& resource) {
    const json::Object& members = *resource.asObject();
    return std::any_of(members.begin(), members.end(), [](const json::Member& member) {
      return member.first.starts_with("value") || member.first == "dataAbsentReason";
    });
  }

  /// The pressures of an arm are parts of its panel; other components go by their own codes.
  void takeComponents(const Entry& entry, const json::Value* code) {
    const bool arm = codes_.bears(code, "arm-pressure-panel");
    const bool ours = !arm && codes_.computed(code);
    const json::Array& components = entry.resource->list("component");
    for (std::size_t i = 0; i < components.size() && !ours; ++i) {
      const Part part{components[i], entry, entry.place + " component " + std::to_string(i), true};
      if (components[i].asObject() == nullptr) continue;
      const json::Value* own = components[i].member("code");
      const json::Value* site = entry.resource->member("bodySite");
      Meaning meaning = arm ? partOfArm(own) : Meaning{};
      if (meaning.target == nullptr) meaning = codes_.reading(own, site);
      if (meaning.target != nullptr) {
        takeReading(part, meaning);
      } else {
        note(codes_.computed(own) ? computed_ : unmapped_, meaning.name, part);
      }
    }
  }

  Meaning partOfArm(const json::Value* code) const {
    for (const auto& [part, id] : {std::pair{"part-systolic", "arm-systolic"},
                                   std::pair{"part-diastolic", "arm-diastolic"}}) {
      if (codes_.bears(code, part)) return codes_.own(id);
    }
    return {};
  }

  static void note(Tally& tally, const std::string& name, const Part& part) {
    Told& told = tally[name.empty() ? "no code" : name];
    if (told.count++ == 0) told.place = part.place;
  }

  /// One remark for each code.
  void reportUnmapped() {
    for (const auto& [name, told] : unmapped_) {
      draft_.remark(
          "fhir-observation-unmapped", told.place + " code",
          {{"value", shortened(printable(name), 120)}, {"count", std::to_string(told.count)}});
    }
  }

  /// One remark for all.
  void reportComputed() {
    if (computed_.empty()) return;
    std::string names;
    std::size_t named = 0;
    for (const auto& [name, told] : computed_) {
      if (++named > kNamed) break;
      if (!names.empty()) names += ", ";
      names += shortened(printable(name.substr(name.rfind('|') + 1)), 80);
    }
    if (computed_.size() > kNamed) names += " and others";
    draft_.remark("fhir-computed", computed_.begin()->second.place, {{"value", names}});
  }

  /// So that whoever reads the remark can compare: "ankle-brachial-index 0.92 (right)".
  std::string withFigure(std::string name, const json::Value& resource) const {
    const json::Value* quantity = resource.member("valueQuantity");
    const json::Value* value = quantity == nullptr ? nullptr : quantity->member("value");
    if (value == nullptr || value->asNumber() == nullptr) return name;
    name += " " + value->asNumber()->text;
    const std::string side = codes_.side(resource.member("bodySite"));
    return side == "right" || side == "left" ? name + " (" + side + ")" : name;
  }

  void takeReading(const Part& part, const Meaning& meaning) {
    if (meaning.target->role == csv::Role::Ignore) return;
    const json::Value& resource = *part.entry.resource;
    const std::string_view status = resource.text("status");
    const char state = letterOf(status);
    if (state == '\0') {
      return draft_.remark("fhir-observation-status", part.place + " status",
                           {{"value", shortened(printable(status), 20)}});
    }
    out_.states += state;
    Issues issues;
    csv::Row row = rowOf(part, meaning, state, issues);
    for (Issue& found : issues) draft_.remark(std::move(found));
    if (row.cells.empty()) return;
    flag(part);
    const bool before = isPrevious(*meaning.target->item);
    if (before) {
      draft_.putText("/previous/measuredOn", effectiveOf(resource).substr(0, 10),
                     part.place + " " + std::string(effectiveName(resource)));
    } else {
      out_.readings.push_back(&part.entry);
      putInstrument(draft_, part.entry, entries_, tables().row(*meaning.target->item), codes_);
    }
    const std::string side = row.cells[1];
    add(std::move(row), part, *meaning.target);
    if (*meaning.target->item == Item::ToePressure) addToe(part, side);
  }

  csv::Row rowOf(const Part& part, const Meaning& meaning, char state, Issues& issues) const {
    const json::Value& resource = *part.entry.resource;
    std::string note;
    for (const json::Value& each : resource.list("note")) say(note, each.text("text"));
    std::optional<ValueCell> value = valueIn(part, *meaning.target, state, note, issues);
    if (!value) return {};
    csv::Row row;
    row.word = "entry";
    row.number = part.entry.number;
    row.cells = {meaning.name, sideOf(resource, *meaning.target), std::move(value->text),
                 std::move(value->unit), std::move(note)};
    row.places = {part.place + " code", part.entry.place + " bodySite", value->place, value->place,
                  part.entry.place + " note"};
    return row;
  }

  std::optional<ValueCell> valueIn(const Part& part, const csv::Target& target, char state,
                                   std::string& note, Issues& issues) const {
    const std::string place = part.place + " status";
    if (state == 'D') {
      say(note, "Withdrawn by the sender (status entered-in-error).");
      return ValueCell{"absent:error", {}, place};
    }
    if (state != 'X') return valueOf(part.said, target, codes_, part.place, note, issues);
    if (hasValue(part.said)) {
      issues.push_back(issue(tables().rule("fhir-cancelled-value"), place));
      return std::nullopt;
    }
    say(note, "Cannot be obtained (status cancelled).");
    return ValueCell{"absent:not-performed", {}, place};
  }

  /// A body site that is no side is in the way only where a side is wanted.
  std::string sideOf(const json::Value& resource, const csv::Target& target) const {
    std::string side = codes_.side(resource.member("bodySite"));
    const bool known = side == "right" || side == "left" || side == "right and left";
    const bool wanted = target.pointer.find("{side}") != std::string::npos;
    return known || wanted ? side : std::string{};
  }

  /// The same once more is once; another value is for the visit to refuse.
  void add(csv::Row row, const Part& part, const csv::Target& target) {
    const std::string what = fill(target.pointer, {{"side", row.cells[1]}});
    const std::string said = row.cells[2] + "\n" + row.cells[3];
    const auto [found, fresh] = said_.emplace(what, said);
    if (fresh || found->second != said) {
      out_.rows.push_back(std::move(row));
    } else if (!part.component) {
      draft_.remark("fhir-observation-again", part.place);
    }
  }

  /// Which toe and which sensor are told by body site and method of the pressure.
  void addToe(const Part& part, const std::string& side) {
    if (side != "right" && side != "left") return;
    const json::Value& resource = *part.entry.resource;
    const auto put = [&](Item item, std::string_view word, std::string_view element) {
      if (word.empty()) return;
      const Meaning meaning = codes_.own(tables().row(item), side);
      const std::string place = part.entry.place + " " + std::string(element);
      csv::Row row;
      row.word = "entry";
      row.number = part.entry.number;
      row.cells = {meaning.name, side, std::string(word), "", ""};
      row.places.assign(row.cells.size(), place);
      add(std::move(row), {part.said, part.entry, place, true}, *meaning.target);
    };
    put(Item::ToeDigit, codes_.toe(resource.member("bodySite")), "bodySite");
    for (const std::string_view sensor : {"photoplethysmography", "laser-doppler", "doppler"}) {
      const bool by = codes_.bears(resource.member("method"), "method-" + std::string(sensor));
      if (by) return put(Item::ToeSensor, sensor, "method");
    }
  }

  /// Classes of the sender are not taken over; that is said once.
  void flag(const Part& part) {
    if (flagged_) return;
    for (const json::Value& said : part.entry.resource->list("interpretation")) {
      if (flagged_ || codes_.bears(&said, "incompressible")) continue;
      flagged_ = true;
      draft_.remark("fhir-interpretation", part.entry.place + " interpretation");
    }
  }

  Draft& draft_;
  const Gathered& group_;
  const Entries& entries_;
  const Codes& codes_;
  Rows out_;
  Tally unmapped_;
  Tally computed_;
  std::map<std::string, std::string> said_;  ///< values by reading
  bool flagged_ = false;
};

}  // namespace

Rows rowsOf(Draft& draft, const Gathered& group, const Entries& entries, const Codes& codes) {
  return Reader(draft, group, entries, codes).read();
}

}  // namespace footbridge::fhir
