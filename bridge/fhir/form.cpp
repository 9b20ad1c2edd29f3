#include "fhir/form.hpp"

#include <algorithm>
#include <set>

#include "fhir/quantity.hpp"

namespace footbridge::fhir {
namespace {

using json::Value;

constexpr std::string_view kInstruments = "instruments";

/// The value[x] of an answer and its type ("Quantity"), nullptr if it has none.
struct Answer {
  std::string_view type;
  const Value* value = nullptr;
};

Answer answerOf(const Value& answer) {
  const json::Object* members = answer.asObject();
  if (members == nullptr) return {};
  for (const auto& [name, value] : *members) {
    if (name.starts_with("value")) return {std::string_view(name).substr(5), &value};
  }
  return {};
}

class Reader {
 public:
  Reader(Draft& draft, const Scope& scope, const Names& names)
      : draft_(draft), scope_(scope), names_(names) {}

  void read() {
    readHead();
    readItems(scope_.resource);
    readStatus();
    readTimes();
  }

 private:
  static std::string placeOf(std::string_view link) { return "item " + std::string(link); }

  void readHead() {
    const Value& form = scope_.resource;
    draft_.put("/format", Value(std::string("footbridge-assessment-1")), "resourceType");
    draft_.locate("/identifier", "identifier");
    draft_.locate("/organization", placeOf("organization.name"));
    if (const Value* identifier = form.member("identifier")) {
      draft_.putIdentifier("/identifier", *identifier, "identifier");
    }
    putSubject(draft_, scope_, form.member("subject"));
    draft_.locate("/performer", "author");
    if (const Value* author = form.member("author")) {
      putParty(draft_, scope_, *author, "/performer", "author");
    }
    if (const Value* encounter = form.member("encounter")) {
      putLink(draft_, scope_, *encounter, "/encounter", "encounter");
    }
    if (!form.list("basedOn").empty()) {
      putLink(draft_, scope_, form.list("basedOn").front(), "/order", "basedOn");
    }
  }

  /// Only what its author has finished is taken; a form still being filled in has gaps that say
  /// nothing.
  void readStatus() {
    const std::string_view status = scope_.resource.text("status");
    if (status == "entered-in-error") {
      return draft_.putText("/status", status, "status");
    }
    if (status != "completed" && status != "amended") {
      draft_.put("/status", Value(std::string("final")), "status");
      return draft_.remark("fhir-form-status", "status", {{"value", printable(status)}});
    }
    if (preliminary_) return;
    draft_.putText("/status", status == "amended" ? "corrected" : "final", "status");
  }

  void readTimes() {
    const std::string_view authored = scope_.resource.text("authored");
    draft_.locate("/measuredAt", placeOf("measuredAt"));
    draft_.putText(draft_.holds("/measuredAt") ? "/issuedAt" : "/measuredAt", authored, "authored");
  }

  void readItems(const Value& parent) {
    for (const Value& item : parent.list("item")) {
      if (item.text("linkId") == kInstruments && !item.list("item").empty()) {
        readInstrument(item);
        continue;
      }
      readAnswers(item);
      readItems(item);
      for (const Value& answer : item.list("answer")) readItems(answer);
    }
  }

  void readAnswers(const Value& item) {
    const json::Array& answers = item.list("answer");
    if (answers.empty()) return;
    const std::string link(item.text("linkId"));
    const std::string place = placeOf(printable(shortened(link, 120)));
    const Field* field = names_.field(link);
    if (field == nullptr || link.starts_with(kInstruments)) return refuseUnknown(link, place);
    if (!answered_.insert(link).second) return draft_.remark("fhir-form-twice", place);
    const std::string pointer = pointerOf(link);
    if (field->takes == Takes::Texts) return readList(answers, pointer, place);
    if (field->takes == Takes::Reading) {
      draft_.locate(pointer, place);
      if (answers.size() > 1) return readRepeats(answers, *field->row, pointer, place);
    }
    if (answers.size() > 1) return draft_.remark("fhir-form-several", place);
    const Answer answer = answerOf(answers.front());
    if (field->takes != Takes::Reading) return readPlain(answer, *field, pointer, place);
    readReading(answer, *field, pointer, place);
  }

  void refuseUnknown(const std::string& link, const std::string& place) {
    const std::string_view near = names_.near(link);
    draft_.remark("fhir-form-unknown", place,
                  {{"near", near.empty() ? "" : "Did you mean " + std::string(near) + "? "}});
  }

  void readReading(const Answer& answer, const Field& field, const std::string& pointer,
                   const std::string& place) {
    if (answer.type == "Quantity" && field.words == nullptr) {
      return putQuantity(draft_, pointer, *answer.value, *field.row, place);
    }
    readPlain(answer, field, pointer + "/value", place);
  }

  void readPlain(const Answer& answer, const Field& field, const std::string& pointer,
                 const std::string& place) {
    std::optional<Value> value = plain(answer, field);
    if (!value) return draft_.remark("fhir-form-answer", place, {{"type", answer.type}});
    if (pointer == "/status") {
      preliminary_ = value->asString() != nullptr && *value->asString() != "final";
      if (!preliminary_) return;
    }
    draft_.put(pointer, *std::move(value), place);
    // Where what belongs to a reading came before it.
    const std::string reading = pointer.substr(0, pointer.rfind('/'));
    if (!reading.empty()) draft_.locate(reading, place);
  }

  /// As the input format writes it; nothing for a type that is no answer to such a question.
  std::optional<Value> plain(const Answer& answer, const Field& field) const {
    if (answer.value == nullptr) return std::nullopt;
    if (answer.type == "Coding") return Value(wordOf(*answer.value, field.words, names_.tables()));
    if (const bool* yes = answer.value->asBool()) {
      std::string word = wordFor(*yes, field.words);
      return word.empty() ? std::nullopt : std::optional(Value(std::move(word)));
    }
    const bool simple = answer.value->asString() != nullptr || answer.value->asNumber() != nullptr;
    return simple ? std::optional(*answer.value) : std::nullopt;
  }

  void readList(const json::Array& answers, const std::string& pointer, const std::string& place) {
    for (const Value& each : answers) {
      std::optional<Value> value = plain(answerOf(each), {});
      if (!value) return draft_.remark("fhir-form-answer", place, {{"type", answerOf(each).type}});
      draft_.append(pointer, *std::move(value), place);
    }
  }

  /// Several plain figures of one unit are one pressure that was read more than once.
  void readRepeats(const json::Array& answers, const ItemRow& row, const std::string& pointer,
                   const std::string& place) {
    json::Array repeats;
    std::string unit;
    for (const Value& each : answers) {
      const Answer answer = answerOf(each);
      const Value* value = answer.type == "Quantity" ? answer.value->member("value") : nullptr;
      const bool alike = value != nullptr && answer.value->member("comparator") == nullptr &&
                         (repeats.empty() || unit == unitOf(*answer.value));
      if (!alike) return draft_.remark("fhir-form-several", place);
      unit = unitOf(*answer.value);
      repeats.push_back(*value);
    }
    if (unit.empty()) return draft_.remark("fhir-unit-missing", place, {{"label", row.label}});
    draft_.put(pointer + "/repeats", Value(std::move(repeats)), place);
    if (unit != row.unit) draft_.putText(pointer + "/unit", unit, place);
  }

  /// One group an instrument.
  void readInstrument(const Value& group) {
    json::Object out;
    for (const Value& item : group.list("item")) {
      const std::string link(item.text("linkId"));
      const json::Array& answers = item.list("answer");
      if (answers.empty()) continue;
      const Field* field = names_.field(link);
      if (field == nullptr || !link.starts_with(kInstruments)) {
        refuseUnknown(link, placeOf(printable(shortened(link, 120))));
        continue;
      }
      std::optional<Value> value = plain(answerOf(answers.front()), *field);
      const std::string name = link.substr(kInstruments.size() + 1);
      const bool twice = std::any_of(out.begin(), out.end(),
                                     [&](const json::Member& one) { return one.first == name; });
      if (twice || answers.size() > 1 || !value) {
        draft_.remark("fhir-form-several", placeOf(link));
      } else {
        out.emplace_back(name, *std::move(value));
      }
    }
    draft_.append("/instruments", Value(std::move(out)), placeOf(kInstruments));
  }

  Draft& draft_;
  const Scope& scope_;
  const Names& names_;
  std::set<std::string, std::less<>> answered_;
  bool preliminary_ = false;
};

}  // namespace

void readForm(Draft& draft, const Scope& scope, const Names& names) {
  Reader(draft, scope, names).read();
}

}  // namespace footbridge::fhir
