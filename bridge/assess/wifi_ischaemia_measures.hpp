#pragma once
// What the WIfI ischaemia grade can rest on, each measure with the grades that it leaves possible.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "assess/answers.hpp"
#include "assess/grade_schemes.hpp"
#include "assess/leg.hpp"

namespace footbridge::assess {

/// A measure with the rows that its span touches: one row if it decides.
struct Basis {
  std::string_view measure{};  ///< in the rows of the table
  std::string_view name{};     ///< in a sentence
  std::optional<Span> span{};
  std::optional<IndexKind> index{};  ///< if the measure is one
  const IschaemiaRow* mildest = nullptr;
  const IschaemiaRow* worst = nullptr;

  bool known() const { return worst != nullptr; }
  bool decides() const { return known() && mildest->grade == worst->grade; }
  bool atAnkle() const { return measure == "abi" || measure == "ankle"; }
  /// The grades that it leaves possible; all of them if it is not known.
  GradeRange grades() const;
  /// "0.38", "index 0.38" of one artery, "35 mmHg".
  std::string value() const;
};

/// The one that cannot be milder than the other's mildest grade; of two alike the one that decides.
const Basis& worseOf(const Basis& first, const Basis& second);

/// Everything that the grade can rest on.
struct IschaemiaMeasures {
  Basis toe;
  Basis tcpo2;
  Basis index;
  Basis ankle;
  Basis lower;                 ///< of two arteries, or the one read beside a hard one
  bool hard = false;           ///< of the arteries that the ankle pressure is taken from
  bool hardElsewhere = false;  ///< toe, peroneal or anterior tibial
  bool toeSilent = false;
  bool indexTooHigh = false;

  bool ankleUnreliable() const { return hard || indexTooHigh; }

  /// What the ankle is known to show: the worse of index and pressure. Where these cannot be relied
  /// on, the artery read beside a hard one if it shows ischaemia, since it can never exclude it.
  const Basis& shownByAnkle() const;

  /// The grades that all of it leaves possible.
  GradeRange left() const;
};

IschaemiaMeasures ischaemiaMeasures(const Leg& leg);

}  // namespace footbridge::assess
