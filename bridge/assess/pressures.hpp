#pragma once
// Which pressure of an arm or a leg goes into an index, or why none does. The choices are those of
// the method: higher of dorsalis pedis and posterior tibial, higher of both arms (ACC/AHA 2016),
// and docs/clinical.md for what that leaves open.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "assess/answers.hpp"
#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge::assess {

/// What can be made of a pressure reading.
enum class PressureState : std::uint8_t {
  NotSent,
  Absent,
  Zero,  ///< an entry error at ankle and toe, never a pressure
  Plain,
  Below,    ///< only an upper bound is known
  Hard,     ///< not compressed, by finding or by a lower bound
  NoSignal  ///< looked for and not found
};

PressureState stateOf(const Reading* reading);

/// The highest pressure that the reading leaves possible: as read, or in half millimetres under its
/// bound. Nothing for a finding, an absence or a lower bound.
std::optional<Pressure> highestOf(const Reading* reading);

/// A pressure, or the reason why there is none.
struct Chosen {
  std::optional<Pressure> pressure{};
  std::string method{};  ///< how it was chosen
  std::vector<ReadingRef> inputs{};
  std::vector<Remark> remarks{};
  AbsentReason reason = AbsentReason::Unknown;
  std::string because{};
};

/// One reading as it stands.
Chosen onePressure(const Assessment& assessment, Item item, Side side, const Tables& tables);

/// The higher arm; one arm with a remark if the other was not measured. None if either arm is known
/// only by a bound or a finding, since the higher is then not known. At rest unless another item is
/// named.
Chosen armPressure(const Assessment& assessment, const Tables& tables,
                   Item item = Item::ArmSystolic);

/// The ankle pressure of the leg: the numerator of its ankle-brachial index.
Chosen anklePressure(const Assessment& assessment, Side side, const Tables& tables);

/// The lower of dorsalis pedis and posterior tibial, if both were read.
Chosen lowerAnklePressure(const Assessment& assessment, Side side, const Tables& tables);

/// What is known of a leg's ankle pressures in whole mmHg, bounds included.
struct AnkleSpans {
  std::optional<Span> higher{};  ///< nothing if an artery is hard: the higher is then not known
  std::optional<Span> lower{};   ///< of two arteries, or the one that was read beside a hard one
  bool hard = false;
  std::vector<ReadingRef> inputs{};
};

AnkleSpans ankleSpans(const Assessment& assessment, Side side);

}  // namespace footbridge::assess
