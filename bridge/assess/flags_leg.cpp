#include <algorithm>
#include <array>

#include "assess/flag_parts.hpp"
#include "assess/pressures.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

constexpr std::array kCuffed{Item::AnkleDorsalisPedis, Item::AnklePosteriorTibial,
                             Item::AnklePeroneal, Item::AnkleAnteriorTibial, Item::ToePressure};
constexpr std::array kAnkle{Item::AnkleDorsalisPedis, Item::AnklePosteriorTibial,
                            Item::AnklePeroneal, Item::AnkleAnteriorTibial};

std::string limitOf(const Reading& reading, const Tables& tables) {
  std::optional<Pressure> limit;
  if (const auto* value = std::get_if<Pressure>(&reading.content)) limit = *value;
  if (const auto* finding = std::get_if<Incompressible>(&reading.content)) limit = finding->limit;
  if (!limit) return sentence(tables, "derive-limit-not-recorded");
  return sentence(tables, "derive-limit", {{"limit", limit->text()}});
}

void flagIncompressible(const Leg& leg, std::vector<Flag>& flags) {
  for (const Item item : kCuffed) {
    const Reading* reading = leg.find(item);
    if (!incompressible(reading)) continue;
    Flag raised = flag(
        leg.tables, "flag-incompressible", leg.side,
        {{"reading", leg.tables.naming(item, leg.side)}, {"limit", limitOf(*reading, leg.tables)}});
    raised.inputs = {{item, leg.side}};
    flags.push_back(raised);
  }
}

void flagHighIndex(const Leg& leg, std::vector<Flag>& flags) {
  const auto value = leg.hundredths(IndexKind::Abi);
  if (!value) return;
  for (const RowId rule : {RowId{"flag-high-index-130"}, RowId{"flag-high-index-140"}}) {
    const std::int32_t bound = figure(leg.tables, rule, "above");
    if (*value <= bound) continue;
    Flag raised = flag(leg.tables, rule, leg.side,
                       {{"value", hundredthsText(*value)}, {"bound", hundredthsText(bound)}});
    raised.indices = {{IndexKind::Abi, leg.side}};
    flags.push_back(raised);
  }
}

/// A normal index with a clearly abnormal waveform below the cuff is likely falsely raised.
void flagWaveformDiscord(const Leg& leg, std::vector<Flag>& flags) {
  constexpr RowId kRule{"flag-waveform-discord"};
  const auto value = leg.hundredths(IndexKind::Abi);
  const std::vector<Item> sounds = abnormalAnkleSounds(leg);
  if (!value || *value < figure(leg.tables, kRule, "from") || sounds.empty()) return;
  std::vector<std::string> names;
  std::vector<ReadingRef> inputs;
  for (const Item item : sounds) {
    names.push_back(leg.tables.naming(item, leg.side));
    inputs.push_back({item, leg.side});
  }
  Flag raised = flag(leg.tables, kRule, leg.side,
                     {{"value", hundredthsText(*value)}, {"readings", listing(names)}});
  raised.inputs = inputs;
  raised.indices = {{IndexKind::Abi, leg.side}};
  flags.push_back(raised);
}

void flagToeDiscord(const Leg& leg, std::vector<Flag>& flags) {
  constexpr RowId kRule{"flag-toe-discord"};
  const auto ankle = leg.hundredths(IndexKind::Abi);
  const auto toe = highestToeIndex(leg);
  if (!ankle || !toe) return;
  const bool discord = *ankle >= figure(leg.tables, kRule, "ankleFrom") &&
                       *toe <= figure(leg.tables, kRule, "toeTo");
  if (!discord) return;
  Flag raised = flag(leg.tables, kRule, leg.side,
                     {{"ankle", hundredthsText(*ankle)}, {"toe", toeIndexText(leg, *toe)}});
  raised.indices = {{IndexKind::Abi, leg.side}, {IndexKind::Tbi, leg.side}};
  flags.push_back(raised);
}

/// No signal is not 0, so there is no index to compare with; it is no normal toe either.
void flagToeSilent(const Leg& leg, std::vector<Flag>& flags) {
  constexpr RowId kRule{"flag-toe-silent"};
  const auto ankle = leg.hundredths(IndexKind::Abi);
  if (!ankle || *ankle < figure(leg.tables, kRule, "ankleFrom")) return;
  if (!noSignal(leg.find(Item::ToePressure))) return;
  Flag raised = flag(leg.tables, kRule, leg.side, {{"ankle", hundredthsText(*ankle)}});
  raised.inputs = {{Item::ToePressure, leg.side}};
  raised.indices = {{IndexKind::Abi, leg.side}};
  flags.push_back(raised);
}

void flagGradient(const Leg& leg, std::vector<Flag>& flags) {
  constexpr RowId kRule{"flag-ankle-toe-gradient"};
  const Chosen ankle = anklePressure(leg.assessment, leg.side, leg.tables);
  const auto toe = highestOf(leg.find(Item::ToePressure));
  const std::int32_t bound = figure(leg.tables, kRule, "above");
  if (!ankle.pressure || !toe) return;
  const Pressure least{ankle.pressure->halves - toe->halves};
  if (least <= Pressure::mmhg(bound)) return;
  const bool exact = plainPressure(leg.find(Item::ToePressure)).has_value();
  Flag raised = flag(
      leg.tables, kRule, leg.side,
      {{"value", (exact ? "" : "at least ") + least.text()}, {"bound", std::to_string(bound)}});
  raised.inputs = ankle.inputs;
  raised.inputs.push_back({Item::ToePressure, leg.side});
  raised.indices = {{IndexKind::AnkleToeGradient, leg.side}};
  flags.push_back(raised);
}

void flagAnkleAboveArm(const Leg& leg, std::vector<Flag>& flags) {
  constexpr RowId kRule{"flag-ankle-above-arm"};
  const Chosen arm = armPressure(leg.assessment, leg.tables);
  const std::int32_t gap = figure(leg.tables, kRule, "gap");
  if (!arm.pressure) return;
  for (const Item item : kAnkle) {
    const auto ankle = plainPressure(leg.find(item));
    if (!ankle || ankle->halves <= arm.pressure->halves + Pressure::mmhg(gap).halves) continue;
    Flag raised = flag(leg.tables, kRule, leg.side,
                       {{"reading", leg.tables.naming(item, leg.side)},
                        {"value", ankle->text()},
                        {"arm", arm.pressure->text()},
                        {"gap", std::to_string(gap)}});
    raised.inputs = arm.inputs;
    raised.inputs.push_back({item, leg.side});
    flags.push_back(raised);
  }
}

std::vector<ReadingRef> historyOf(const Assessment& assessment) {
  std::vector<ReadingRef> inputs;
  for (const Item item :
       {Item::HistoryDiabetes, Item::HistoryKidneyDisease, Item::HistoryDialysis}) {
    if (!visitWord(assessment, item).empty()) inputs.push_back({item, Side::None});
  }
  return inputs;
}

/// In diabetes and kidney disease an index that is not low does not exclude arterial disease, and
/// what was not recorded may be there.
void flagNotExcluded(const Leg& leg, std::vector<Flag>& flags) {
  const auto value = leg.hundredths(IndexKind::Abi);
  const bool notLow = value && *value > figure(leg.tables, "flag-not-excluded", "low");
  const std::string unknown = unknownHistory(leg.assessment);
  const bool recorded = hardArteriesLikely(leg.assessment);
  if (!notLow || toeSpan(leg) || (!recorded && unknown.empty())) return;
  Flag raised = flag(leg.tables, choose(recorded, "flag-not-excluded", "flag-history-unknown"),
                     leg.side, {{"value", hundredthsText(*value)}, {"what", unknown}});
  raised.inputs = historyOf(leg.assessment);
  raised.indices = {{IndexKind::Abi, leg.side}};
  flags.push_back(raised);
}

/// A remark of the leg's index that a reader of the report must not miss.
void flagFromRemark(const Leg& leg, std::string_view remarkRule, RowId rule,
                    std::vector<Flag>& flags) {
  const Index* index = leg.index(IndexKind::Abi);
  if (index == nullptr) return;
  const auto found = std::find_if(index->remarks.begin(), index->remarks.end(),
                                  [=](const Remark& remark) { return remark.rule == remarkRule; });
  if (found == index->remarks.end()) return;
  Flag raised = flag(leg.tables, rule, leg.side, {{"remark", found->text}});
  raised.inputs = index->inputs;
  raised.indices = {{IndexKind::Abi, leg.side}};
  flags.push_back(raised);
}

/// How recent it is, is not among the readings.
void flagRevascularisation(const Leg& leg, std::vector<Flag>& flags) {
  const std::string_view word = leg.word(Item::HistoryRevascularisation);
  if (word != "bypass" && word != "stent") return;
  Flag raised = flag(leg.tables, "flag-revascularised", leg.side, {{"what", word}});
  raised.inputs = {{Item::HistoryRevascularisation, leg.side}};
  flags.push_back(raised);
}

}  // namespace

void flagLeg(const Leg& leg, std::vector<Flag>& flags) {
  flagIncompressible(leg, flags);
  flagHighIndex(leg, flags);
  flagWaveformDiscord(leg, flags);
  flagToeDiscord(leg, flags);
  flagToeSilent(leg, flags);
  flagGradient(leg, flags);
  flagAnkleAboveArm(leg, flags);
  flagNotExcluded(leg, flags);
  flagFromRemark(leg, "derive-one-artery", "flag-one-artery", flags);
  flagFromRemark(leg, "derive-peroneal-used", "flag-peroneal-used", flags);
  flagRevascularisation(leg, flags);
}

}  // namespace footbridge::assess
