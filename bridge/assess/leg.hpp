#pragma once
// One leg with everything that grades and flags look at.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "assess/answers.hpp"
#include "model/assessment.hpp"
#include "model/findings.hpp"
#include "tables/tables.hpp"

namespace footbridge::assess {

struct Leg {
  const Assessment& assessment;
  const std::vector<Index>& indices;
  const Tables& tables;
  Side side;

  const Reading* find(Item item) const { return assessment.find(item, side); }
  std::string_view word(Item item) const { return chosenWord(find(item)); }

  /// The index of this leg, present or not; nullptr only if it was not derived at all.
  const Index* index(IndexKind kind) const;
  /// Its rounded value, if it has one.
  std::optional<std::int32_t> hundredths(IndexKind kind) const;
};

/// A word of the visit (history, posture, method), "" if none.
std::string_view visitWord(const Assessment& assessment, Item item);

/// Diabetes, kidney disease or dialysis is recorded: arteries may be hard without being named so.
bool hardArteriesLikely(const Assessment& assessment);

/// What of diabetes and kidney disease was not recorded; "" if both were, or if hard arteries are
/// likely by what was.
std::string unknownHistory(const Assessment& assessment);

/// The Doppler readings at the ankle whose sound is clearly abnormal.
std::vector<Item> abnormalAnkleSounds(const Leg& leg);

/// Rest pain, and wound or gangrene: present, absent, or not recorded well enough to say.
Answer restPain(const Leg& leg);
Answer tissueLoss(const Leg& leg);

/// The highest pressure of the toe, the ankle or TcPO2 in whole mmHg as far as it is known; nothing
/// for a finding. Zero counts for TcPO2 only.
std::optional<Span> toeSpan(const Leg& leg);
std::optional<Span> tcpo2Span(const Leg& leg);

/// The highest toe-brachial index that the readings leave possible, in hundredths: the index itself
/// where the toe was read, else what its upper bound makes.
std::optional<std::int32_t> highestToeIndex(const Leg& leg);

/// "0.18", or "at most 0.14" where the toe is known by a bound only.
std::string toeIndexText(const Leg& leg, std::int32_t highest);

}  // namespace footbridge::assess
