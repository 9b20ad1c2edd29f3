#include "assess/leg.hpp"

#include <algorithm>
#include <array>

#include "assess/pressures.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

constexpr std::array kAnkleDoppler{Item::DopplerDorsalisPedis, Item::DopplerPosteriorTibial,
                                   Item::DopplerPeroneal, Item::DopplerAnteriorTibial};
constexpr std::array<std::string_view, 3> kAbnormalWaveforms{
    "waveform-monophasic-low-resistive-dampened", "waveform-monophasic", "waveform-absent"};

bool abnormal(std::string_view waveform) {
  return std::find(kAbnormalWaveforms.begin(), kAbnormalWaveforms.end(), waveform) !=
         kAbnormalWaveforms.end();
}

bool otherThanNone(std::string_view word) { return !word.empty() && word != "none"; }

}  // namespace

const Index* Leg::index(IndexKind kind) const {
  const auto found = std::find_if(indices.begin(), indices.end(), [&](const Index& index) {
    return index.kind == kind && index.side == side;
  });
  return found == indices.end() ? nullptr : &*found;
}

std::optional<std::int32_t> Leg::hundredths(IndexKind kind) const {
  const Index* found = index(kind);
  return found == nullptr ? std::nullopt : found->hundredths;
}

std::string_view visitWord(const Assessment& assessment, Item item) {
  return chosenWord(assessment.find(item, Side::None));
}

bool hardArteriesLikely(const Assessment& assessment) {
  return otherThanNone(visitWord(assessment, Item::HistoryDiabetes)) ||
         otherThanNone(visitWord(assessment, Item::HistoryKidneyDisease)) ||
         visitWord(assessment, Item::HistoryDialysis) == "yes";
}

std::string unknownHistory(const Assessment& assessment) {
  if (hardArteriesLikely(assessment)) return {};
  std::vector<std::string> names;
  if (visitWord(assessment, Item::HistoryDiabetes).empty()) names.emplace_back("diabetes");
  if (visitWord(assessment, Item::HistoryKidneyDisease).empty()) {
    names.emplace_back("kidney disease");
  }
  return listing(names);
}

std::vector<Item> abnormalAnkleSounds(const Leg& leg) {
  std::vector<Item> sounds;
  for (const Item item : kAnkleDoppler) {
    const WaveformRow* row = leg.tables.waveform(leg.word(item));
    if (row != nullptr && abnormal(row->outcome)) sounds.push_back(item);
  }
  return sounds;
}

Answer restPain(const Leg& leg) {
  const std::string_view word = leg.word(Item::RestPain);
  if (word.empty()) return Answer::Unknown;
  return word == "present" ? Answer::Yes : Answer::No;
}

Answer tissueLoss(const Leg& leg) {
  const std::string_view depth = leg.word(Item::WoundDepth);
  const std::string_view gangrene = leg.word(Item::Gangrene);
  if (otherThanNone(depth) || otherThanNone(gangrene)) return Answer::Yes;
  return depth.empty() || gangrene.empty() ? Answer::Unknown : Answer::No;
}

std::optional<Span> toeSpan(const Leg& leg) {
  const Reading* reading = leg.find(Item::ToePressure);
  const PressureState state = stateOf(reading);
  const bool read = state == PressureState::Plain || state == PressureState::Below;
  return read ? spanOf(reading) : std::nullopt;
}

std::optional<Span> tcpo2Span(const Leg& leg) { return spanOf(leg.find(Item::Tcpo2)); }

std::optional<std::int32_t> highestToeIndex(const Leg& leg) {
  const auto toe = highestOf(leg.find(Item::ToePressure));
  const Chosen arm = armPressure(leg.assessment, leg.tables);
  if (!toe || !arm.pressure) return std::nullopt;
  return static_cast<std::int32_t>(hundredths({toe->halves, arm.pressure->halves}));
}

std::string toeIndexText(const Leg& leg, std::int32_t highest) {
  const bool bound = !plainPressure(leg.find(Item::ToePressure));
  return (bound ? "at most " : "") + hundredthsText(highest);
}

}  // namespace footbridge::assess
