#include "fhir/value.hpp"

#include <algorithm>

#include "csv/cell.hpp"
#include "fhir/names.hpp"
#include "fhir/quantity.hpp"

namespace footbridge::fhir {
namespace {

constexpr std::string_view kReasons = "http://terminology.hl7.org/CodeSystem/data-absent-reason";

/// Takes one value apart.
class Reader {
 public:
  Reader(const json::Value& observation, const csv::Target& target, const Codes& codes,
         const std::string& place, Issues& issues)
      : observation_(observation),
        target_(target),
        codes_(codes),
        row_(codes.tables().row(*target.item)),
        place_(place),
        issues_(issues) {}

  std::optional<ValueCell> read(std::string& note) {
    const json::Value* value = nullptr;
    std::string_view type;
    for (const auto& [name, member] : *observation_.asObject()) {
      if (!name.starts_with("value")) continue;
      value = &member;
      type = std::string_view(name).substr(5);
    }
    const json::Value* reason = observation_.member("dataAbsentReason");
    if (value != nullptr && reason != nullptr) return refuse("fhir-value-and-reason", "", "");
    if (reason != nullptr) return absent(*reason, note);
    if (value == nullptr) return refuse("fhir-observation-empty", "", "");
    const std::string element = "value" + std::string(type);
    if (type == "Quantity") return quantity(*value, element);
    if (type == "CodeableConcept") return cell(coded(*value), element);
    return plain(*value, type, element);
  }

 private:
  std::optional<ValueCell> refuse(std::string_view rule, std::string_view element,
                                  std::string_view value) {
    const std::string at = element.empty() ? place_ : place_ + " " + std::string(element);
    issues_.push_back(issue(
        codes_.tables().rule(rule), at,
        {{"value", shortened(printable(value), 60)}, {"label", row_.label}, {"unit", row_.unit}}));
    return std::nullopt;
  }

  ValueCell cell(std::string text, const std::string& element, std::string unit = {}) const {
    return {std::move(text), std::move(unit), place_ + " " + element};
  }

  std::optional<ValueCell> absent(const json::Value& reason, std::string& note) {
    say(note, reason.text("text"));
    for (const json::Value& coding : reason.list("coding")) {
      if (coding.text("system") == kReasons) {
        return cell("absent:" + std::string(coding.text("code")), "dataAbsentReason");
      }
    }
    return cell(firstKnown(callsOf(&reason)), "dataAbsentReason");
  }

  bool counted() const { return row_.kind == Kind::Pressure || row_.kind == Kind::Number; }

  std::optional<ValueCell> quantity(const json::Value& quantity, const std::string& element) {
    const json::Value* value = quantity.member("value");
    const json::Number* number = value == nullptr ? nullptr : value->asNumber();
    if (number == nullptr) return refuse("fhir-value-missing", element, "");
    std::string unit = unitOf(quantity);
    // An index is a plain number, and many write none for its unit.
    if (counted() && unit.empty() && row_.unit != "1") {
      return refuse("fhir-unit-missing", element, "");
    }
    if (!counted()) unit.clear();  // the grade of a pulse is a score
    if (!taken(unit)) return refuse("fhir-unit", element, unit);
    if (unit == "mm[Hg]") unit = "mmHg";
    const std::string_view comparator = quantity.text("comparator");
    // A comparator that must not be lost is refused as it stands.
    if (comparator.starts_with('>') && yielded() && row_.kind == Kind::Pressure) {
      const std::string finding = "incompressible:" + number->text;
      if (codes_.map().words.contains(finding)) return cell(finding, element);
    }
    return cell(std::string(comparator) + number->text, element, std::move(unit));
  }

  bool taken(const std::string& unit) const {
    return unit.empty() || unit == row_.unit || unit == row_.unitLabel ||
           (unit == "kPa" && row_.kind == Kind::Pressure);
  }

  /// Whether an interpretation says that the artery did not yield.
  bool yielded() const {
    for (const json::Value& said : observation_.list("interpretation")) {
      if (codes_.bears(&said, "incompressible")) return true;
    }
    return false;
  }

  std::string coded(const json::Value& value) const {
    if (row_.kind == Kind::Pressure) {
      for (const std::string_view finding : {"incompressible", "no-signal"}) {
        if (codes_.bears(&value, finding)) return std::string(finding);
      }
    }
    const std::vector<std::string> calls = callsOf(&value);
    // What the sender's map says of a code comes before what the catalogue does.
    for (const std::string& call : calls) {
      if (target_.words.contains(csv::folded(call))) return call;
    }
    const std::string word = codes_.word(&value, row_.words);
    return word.empty() ? firstKnown(calls) : word;
  }

  /// The first call that can be read; else the last, which is the text for people.
  std::string firstKnown(const std::vector<std::string>& calls) const {
    for (const std::string& call : calls) {
      Issues unheard;
      const csv::CellPlace place{codes_.map(), codes_.tables(), unheard, {}};
      // Of a grade that has no meaning the name of its scale goes before the last comma.
      for (const std::string& word : {call, call.substr(0, call.rfind(','))}) {
        if (csv::readingIn(word, target_, place) || unheard.empty()) return word;
        unheard.clear();
      }
    }
    return calls.empty() ? "?" : calls.back();
  }

  /// A bare figure has no unit, whichever way it is sent.
  std::optional<ValueCell> text(const std::string& text, const std::string& element) {
    Issues unheard;
    const csv::CellPlace place{codes_.map(), codes_.tables(), unheard, {}};
    const bool bare = std::none_of(text.begin(), text.end(), [](unsigned char c) {
      return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c >= 0x80;
    });
    const bool unitless = !counted() || row_.unit == "1";
    if (bare && !unitless && csv::meaningOf(text, target_, place) == nullptr) {
      return refuse("fhir-unit-missing", element, "");
    }
    return cell(text, element);
  }

  std::optional<ValueCell> plain(const json::Value& value, std::string_view type,
                                 const std::string& element) {
    if (const bool* yes = value.asBool()) {
      std::string word = wordFor(*yes, codes_.tables().wordList(row_.words));
      if (!word.empty()) return cell(std::move(word), element);
    }
    if (type == "String" && value.asString() != nullptr) return text(*value.asString(), element);
    if (type != "Integer" || value.asNumber() == nullptr) {
      return refuse("fhir-observation-value", element, type);
    }
    const bool unitless = !counted() || row_.unit == "1";
    if (!unitless) return refuse("fhir-unit-missing", element, "");
    return cell(value.asNumber()->text, element);
  }

  const json::Value& observation_;
  const csv::Target& target_;
  const Codes& codes_;
  const ItemRow& row_;
  const std::string& place_;
  Issues& issues_;
};

}  // namespace

void say(std::string& note, std::string_view words) {
  if (words.empty() || note.find(words) != std::string::npos) return;
  note += (note.empty() ? "" : "\n") + std::string(words);
}

std::optional<ValueCell> valueOf(const json::Value& observation, const csv::Target& target,
                                 const Codes& codes, const std::string& place, std::string& note,
                                 Issues& issues) {
  return Reader(observation, target, codes, place, issues).read(note);
}

}  // namespace footbridge::fhir
