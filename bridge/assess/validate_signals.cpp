// Pulse, Doppler sound and cuff pressure of one artery against each other, and pulse grades against
// their scale.

#include <array>

#include "assess/validate_visit.hpp"

namespace footbridge::validation {
namespace {

/// What can be read at one artery.
struct Artery {
  std::optional<Item> pulse;
  Item doppler{};
  std::optional<Item> ankle;
};

constexpr std::array kArteries{
    Artery{Item::PulseFemoral, Item::DopplerFemoral, std::nullopt},
    Artery{Item::PulsePopliteal, Item::DopplerPopliteal, std::nullopt},
    Artery{Item::PulseDorsalisPedis, Item::DopplerDorsalisPedis, Item::AnkleDorsalisPedis},
    Artery{Item::PulsePosteriorTibial, Item::DopplerPosteriorTibial, Item::AnklePosteriorTibial},
    Artery{std::nullopt, Item::DopplerPeroneal, Item::AnklePeroneal},
    Artery{std::nullopt, Item::DopplerAnteriorTibial, Item::AnkleAnteriorTibial}};

bool palpable(std::string_view pulse) { return !pulse.empty() && pulse != "absent"; }

void remarkOnPair(Visit& visit, RowId rule, Side side, Item item, Item other) {
  visit.remark(rule, item, side,
               {{"reading", visit.naming(item, side)}, {"other", visit.naming(other, side)}});
}

void checkPulse(Visit& visit, Side side, const Artery& artery) {
  if (!artery.pulse || !palpable(visit.word(*artery.pulse, side))) return;
  if (visit.word(artery.doppler, side) == "no-signal") {
    remarkOnPair(visit, "pulse-without-signal", side, *artery.pulse, artery.doppler);
  } else if (artery.ankle && noSignal(visit.find(*artery.ankle, side))) {
    remarkOnPair(visit, "pulse-without-signal", side, *artery.pulse, *artery.ankle);
  }
}

void checkPulseAgainstPressure(Visit& visit, Side side, const Artery& artery) {
  if (!artery.pulse || !artery.ankle) return;
  const std::string_view pulse = visit.word(*artery.pulse, side);
  const std::optional<Pressure> ankle = visit.pressure(*artery.ankle, side);
  if (!ankle || (pulse != "normal" && pulse != "increased")) return;
  const std::int32_t bound = visit.figure("pulse-normal-pressure-low", "below");
  if (*ankle >= Pressure::mmhg(bound)) return;
  visit.remark("pulse-normal-pressure-low", *artery.pulse, side,
               {{"reading", visit.naming(*artery.pulse, side)},
                {"word", pulse},
                {"other", visit.naming(*artery.ankle, side)},
                {"value", ankle->text()},
                {"bound", std::to_string(bound)}});
}

/// A figure or "incompressible" needs flow that was heard.
bool flowHeard(const Reading* reading) {
  return reading != nullptr &&
         (std::holds_alternative<Pressure>(reading->content) || incompressible(reading));
}

void checkDoppler(Visit& visit, Side side, const Artery& artery) {
  const std::string_view sound = visit.word(artery.doppler, side);
  if (!artery.ankle || sound.empty()) return;
  const Reading* ankle = visit.find(*artery.ankle, side);
  if (sound == "no-signal" && flowHeard(ankle)) {
    remarkOnPair(visit, "doppler-silent-with-pressure", side, artery.doppler, *artery.ankle);
  }
  if (sound != "no-signal" && noSignal(ankle)) {
    visit.remark("doppler-heard-without-pressure-signal", artery.doppler, side,
                 {{"reading", visit.naming(artery.doppler, side)},
                  {"word", sound},
                  {"other", visit.naming(*artery.ankle, side)}});
  }
}

void remarkOnGrade(Visit& visit, RowId rule, const Reading& reading, const PulseScale& scale) {
  visit.remark(rule, reading.item, reading.side,
               {{"reading", visit.naming(reading.item, reading.side)},
                {"grade", std::to_string(std::get<GradedPulse>(reading.content).grade)},
                {"scale", scale.name},
                {"lowest", std::to_string(scale.lowest)},
                {"highest", std::to_string(scale.highest)}});
}

void checkGrade(Visit& visit, const Reading& reading) {
  const auto* graded = std::get_if<GradedPulse>(&reading.content);
  if (graded == nullptr) return;
  const PulseScale* scale = visit.tables().pulseScale(graded->scale);
  if (scale == nullptr) {
    visit.remark("pulse-scale-unknown", reading.item, reading.side,
                 {{"reading", visit.naming(reading.item, reading.side)}});
  } else if (graded->grade < scale->lowest || graded->grade > scale->highest) {
    remarkOnGrade(visit, "pulse-grade-outside-scale", reading, *scale);
  } else if (!scale->meaning.contains(graded->grade)) {
    remarkOnGrade(visit, "pulse-grade-unnamed", reading, *scale);
  }
}

}  // namespace

void checkSignals(Visit& visit) {
  for (const Side side : kSides) {
    for (const Artery& artery : kArteries) {
      checkPulse(visit, side, artery);
      checkPulseAgainstPressure(visit, side, artery);
      checkDoppler(visit, side, artery);
    }
  }
  for (const Reading& reading : visit.assessment().readings) checkGrade(visit, reading);
}

}  // namespace footbridge::validation
