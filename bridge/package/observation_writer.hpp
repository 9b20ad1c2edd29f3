#pragma once
// One Observation on its way into the bundle.

#include <string>
#include <string_view>
#include <vector>

#include "json/writer.hpp"
#include "package/sheet.hpp"
#include "package/wording.hpp"

namespace footbridge::package {

/// An Observation in the order in which its parts are appended: first what its narrative says, then
/// what it is, then its value and the rest. One at a time.
class ObservationWriter {
 public:
  /// `meta` is ,"meta":{...} or "".
  ObservationWriter(std::string& out, const Sheet& sheet, const Uuid& uuid, std::string_view meta)
      : out_(out), sheet_(sheet), uuid_(uuid), notes_(sheet.notes) {
    notes_.clear();
    openEntry(out, sheet, Resource::Observation, uuid, meta);
    out += "<p>";
  }
  ~ObservationWriter() {
    if (!notes_.empty()) ((out_ += ",\"note\":[") += notes_) += ']';
    closeEntry(out_, sheet_, Resource::Observation, uuid_);
    out_ += ',';
  }
  ObservationWriter(const ObservationWriter&) = delete;
  ObservationWriter& operator=(const ObservationWriter&) = delete;

  /// More of the sentence that the narrative is.
  ObservationWriter& say(std::string_view text) {
    json::appendXhtml(out_, text);
    return *this;
  }
  ObservationWriter& sayNamed(std::string_view label, Side side) {
    say(label);
    return side == Side::None ? *this : say(", ").say(word(side));
  }
  ObservationWriter& say(const Grade& grade) {
    if (grade.present()) return say(outcomeLabel(grade, sheet_.tables));
    return say("cannot be graded. ").say(grade.because);
  }

  /// Category and code, then what every Observation of the visit has.
  void what(std::string_view codePieces) { is(codePieces, sheet_.common); }
  void whatBefore(std::string_view codePieces) { is(codePieces, sheet_.commonBefore); }

  void raw(std::string_view json) { out_ += json; }

  void quantity(std::string_view value, std::string_view comparator, std::string_view unitLabel,
                std::string_view ucum) {
    ((out_ += ",\"valueQuantity\":{\"value\":") += value);
    if (!comparator.empty()) ((out_ += ",\"comparator\":\"") += comparator) += '"';
    ((out_ += ",\"unit\":\"") += sheet_.prepared.unit(ucum, unitLabel)) +=
        "\",\"system\":\"http://unitsofmeasure.org\",";
    ((out_ += "\"code\":\"") += ucum) += "\"}";
  }

  void codeable(std::string_view concept_) { (out_ += ",\"valueCodeableConcept\":") += concept_; }

  void absent(AbsentReason reason, std::string_view why) {
    (out_ += ",\"dataAbsentReason\":") += sheet_.prepared.absence(reason);
    if (!why.empty()) {
      out_ += ",\"text\":";
      json::appendQuoted(out_, why);
    }
    out_ += '}';
  }

  /// The method in words, joined from its parts.
  template <class... Parts>
  void method(const Parts&... parts) {
    out_ += ",\"method\":{\"text\":\"";
    (json::appendEscaped(out_, parts), ...);
    out_ += "\"}";
  }

  /// A note, joined from its parts. Notes stand at the end of the resource.
  template <class... Parts>
  void note(const Parts&... parts) {
    noteOf({}, parts...);
  }

  /// The same after a beginning that is escaped already.
  template <class... Parts>
  void noteOf(std::string_view beginning, const Parts&... parts) {
    (notes_ += notes_.empty() ? "{\"text\":\"" : ",{\"text\":\"") += beginning;
    (json::appendEscaped(notes_, parts), ...);
    notes_ += "\"}";
  }

  void references(std::string_view member, const std::vector<const Uuid*>& targets) {
    if (targets.empty()) return;
    ((out_ += ",\"") += member) += "\":[";
    for (std::size_t i = 0; i < targets.size(); ++i) {
      if (i > 0) out_ += ',';
      appendReference(out_, *targets[i]);
    }
    out_ += ']';
  }

 private:
  void is(std::string_view codePieces, std::string_view common) {
    if (out_.back() == '.') out_.pop_back();
    ((out_ += sheet_.toIdentifier) += view(uuid_)) += sheet_.fromIdentifier;
    (out_ += codePieces) += common;
  }

  std::string& out_;
  const Sheet& sheet_;
  const Uuid& uuid_;
  std::string& notes_;
};

}  // namespace footbridge::package
