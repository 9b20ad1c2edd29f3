#pragma once
// What every check of validate() has in hand: the readings, the clock, the tables, and the list
// that its remarks go into.

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>

#include "core/issue.hpp"
#include "core/text.hpp"
#include "core/time.hpp"
#include "model/assessment.hpp"
#include "tables/tables.hpp"

namespace footbridge::validation {

inline constexpr std::array kAnkleItems{Item::AnkleDorsalisPedis, Item::AnklePosteriorTibial,
                                        Item::AnklePeroneal, Item::AnkleAnteriorTibial};
inline constexpr std::array kExerciseItems{Item::ExerciseDorsalisPedis,
                                           Item::ExercisePosteriorTibial};

/// True if something was found out: a value, a word or a finding, but not a reason for having none.
bool observed(const Reading* reading);

/// "present" or "yes".
bool affirmed(const Reading* reading);

/// "absent" or "no", said in so many words.
bool denied(const Reading* reading);

class Visit {
 public:
  Visit(const Assessment& assessment, const Instant& now, const Tables& tables)
      : assessment_(assessment), now_(now), tables_(tables) {}

  const Assessment& assessment() const { return assessment_; }
  const Instant& now() const { return now_; }
  const Tables& tables() const { return tables_; }

  const Reading* find(Item item, Side side = Side::None) const {
    return assessment_.find(item, side);
  }
  /// A plain pressure that can be one: figures that checkLimits() refuses are not compared any
  /// further, so that one slip does not bring about five remarks.
  std::optional<Pressure> pressure(Item item, Side side) const;
  std::string_view word(Item item, Side side = Side::None) const {
    return chosenWord(find(item, side));
  }
  bool observedAny(std::span<const Item> items, Side side) const;

  /// The highest plain pressure of the arteries at the ankle, of both arms.
  std::optional<Pressure> highestAnkle(Side side) const;
  std::optional<Pressure> highestArm() const;

  /// Wound other than none, or gangrene other than none.
  bool tissueLoss(Side side) const;

  /// Below or above the knee.
  bool legAmputated(Side side) const;

  /// A number of a rule, which the tests of the table know to be there.
  std::int32_t figure(RowId rule, std::string_view name) const;

  /// The item for a sentence: "Toe pressure (left)".
  const std::string& naming(Item item, Side side) const { return tables_.naming(item, side); }

  void remark(RowId rule, Item item, Side side, Arguments arguments = {});
  void remarkAt(RowId rule, std::string place, Arguments arguments = {});

  Issues take() { return std::move(issues_); }

 private:
  const Assessment& assessment_;
  const Instant& now_;
  const Tables& tables_;
  Issues issues_;
};

/// One theme of checks each, in the order in which validate() runs them; one file each.
void checkIdentity(Visit& visit);
void checkDates(Visit& visit);
void checkLimits(Visit& visit);
void checkEntries(Visit& visit);
void checkPressures(Visit& visit);
void checkSignals(Visit& visit);
void checkAmputations(Visit& visit);
void checkStatements(Visit& visit);
void checkStated(Visit& visit);
void checkMethod(Visit& visit);
void checkCompleteness(Visit& visit);

}  // namespace footbridge::validation
