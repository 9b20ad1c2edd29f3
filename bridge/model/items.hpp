#pragma once
// The things a clinician can read or state at the couch. The list here and the rows of
// mapping/items.json name the same things: the table loader refuses a table that has one too few or
// one too many.

#include <array>
#include <cstdint>
#include <string_view>

namespace footbridge {

/// Right and left of the patient; None for what has no side (history, posture).
enum class Side : std::uint8_t { Right, Left, None };
inline constexpr std::array<Side, 2> kSides{Side::Right, Side::Left};

// name in code, id in mapping/items.json
#define FOOTBRIDGE_ITEMS(ROW)                                  \
  ROW(ArmSystolic, "arm.systolic")                             \
  ROW(ArmDiastolic, "arm.diastolic")                           \
  ROW(ArmSystolicAfterExercise, "arm.systolic-after-exercise") \
  ROW(PulseFemoral, "pulse.femoral")                           \
  ROW(PulsePopliteal, "pulse.popliteal")                       \
  ROW(PulseDorsalisPedis, "pulse.dorsalis-pedis")              \
  ROW(PulsePosteriorTibial, "pulse.posterior-tibial")          \
  ROW(DopplerFemoral, "doppler.femoral")                       \
  ROW(DopplerPopliteal, "doppler.popliteal")                   \
  ROW(DopplerDorsalisPedis, "doppler.dorsalis-pedis")          \
  ROW(DopplerPosteriorTibial, "doppler.posterior-tibial")      \
  ROW(DopplerPeroneal, "doppler.peroneal")                     \
  ROW(DopplerAnteriorTibial, "doppler.anterior-tibial")        \
  ROW(AnkleDorsalisPedis, "ankle.dorsalis-pedis")              \
  ROW(AnklePosteriorTibial, "ankle.posterior-tibial")          \
  ROW(AnklePeroneal, "ankle.peroneal")                         \
  ROW(AnkleAnteriorTibial, "ankle.anterior-tibial")            \
  ROW(ToePressure, "toe.pressure")                             \
  ROW(ToeDigit, "toe.digit")                                   \
  ROW(ToeSensor, "toe.sensor")                                 \
  ROW(SegmentHighThigh, "segment.high-thigh")                  \
  ROW(SegmentLowThigh, "segment.low-thigh")                    \
  ROW(SegmentCalf, "segment.calf")                             \
  ROW(Tcpo2, "tcpo2")                                          \
  ROW(CapillaryRefill, "capillary-refill")                     \
  ROW(ExerciseDorsalisPedis, "exercise.dorsalis-pedis")        \
  ROW(ExercisePosteriorTibial, "exercise.posterior-tibial")    \
  ROW(RestPain, "rest-pain")                                   \
  ROW(RestPainDays, "rest-pain.days")                          \
  ROW(Claudication, "claudication")                            \
  ROW(ClaudicationDistance, "claudication.distance")           \
  ROW(WoundDepth, "wound.depth")                               \
  ROW(WoundSite, "wound.site")                                 \
  ROW(WoundArea, "wound.area")                                 \
  ROW(WoundDays, "wound.days")                                 \
  ROW(Gangrene, "gangrene")                                    \
  ROW(Infection, "infection")                                  \
  ROW(InfectionSwelling, "infection.swelling")                 \
  ROW(InfectionErythema, "infection.erythema")                 \
  ROW(InfectionTenderness, "infection.tenderness")             \
  ROW(InfectionWarmth, "infection.warmth")                     \
  ROW(InfectionPus, "infection.pus")                           \
  ROW(InfectionDeep, "infection.deep")                         \
  ROW(StatedWound, "stated.wifi-wound")                        \
  ROW(StatedIschaemia, "stated.wifi-ischaemia")                \
  ROW(StatedInfection, "stated.wifi-infection")                \
  ROW(StatedUnsalvageable, "stated.unsalvageable")             \
  ROW(StatedFontaine, "stated.fontaine")                       \
  ROW(StatedRutherford, "stated.rutherford")                   \
  ROW(HistoryRevascularisation, "history.revascularisation")   \
  ROW(HistoryAmputation, "history.amputation")                 \
  ROW(PreviousAbi, "previous.abi")                             \
  ROW(PreviousTbi, "previous.tbi")                             \
  ROW(PreviousToePressure, "previous.toe-pressure")            \
  ROW(HistoryDiabetes, "history.diabetes")                     \
  ROW(HistoryKidneyDisease, "history.kidney-disease")          \
  ROW(HistoryDialysis, "history.dialysis")                     \
  ROW(HistorySmoking, "history.smoking")                       \
  ROW(Posture, "posture")                                      \
  ROW(RestMinutes, "rest-minutes")                             \
  ROW(PressureMethod, "pressure-method")                       \
  ROW(ExerciseProtocol, "exercise.protocol")                   \
  ROW(ExerciseMinutesAfter, "exercise.minutes-after")          \
  ROW(Temperature, "systemic.temperature")                     \
  ROW(HeartRate, "systemic.heart-rate")                        \
  ROW(RespiratoryRate, "systemic.respiratory-rate")            \
  ROW(CarbonDioxide, "systemic.paco2")                         \
  ROW(WhiteCells, "systemic.white-cells")                      \
  ROW(BandForms, "systemic.band-forms")

enum class Item : std::uint8_t {
#define FOOTBRIDGE_ROW(name, id) name,
  FOOTBRIDGE_ITEMS(FOOTBRIDGE_ROW)
#undef FOOTBRIDGE_ROW
};

inline constexpr std::array kItemIds{
#define FOOTBRIDGE_ROW(name, id) std::string_view{id},
    FOOTBRIDGE_ITEMS(FOOTBRIDGE_ROW)
#undef FOOTBRIDGE_ROW
};
inline constexpr std::size_t kItemCount = kItemIds.size();

/// The id of the item in mapping/items.json.
constexpr std::string_view id(Item item) { return kItemIds[static_cast<std::size_t>(item)]; }

/// A figure of an earlier assessment that came along.
constexpr bool isPrevious(Item item) {
  return item >= Item::PreviousAbi && item <= Item::PreviousToePressure;
}

/// "right", "left" or "".
constexpr std::string_view word(Side side) {
  return side == Side::Right ? "right" : (side == Side::Left ? "left" : "");
}

// name in code, id in mapping/indices.json
#define FOOTBRIDGE_INDICES(ROW)                   \
  ROW(Abi, "abi")                                 \
  ROW(AbiLowAnkle, "abi.low-ankle")               \
  ROW(AbiDorsalisPedis, "abi.dorsalis-pedis")     \
  ROW(AbiPosteriorTibial, "abi.posterior-tibial") \
  ROW(AbiPeroneal, "abi.peroneal")                \
  ROW(AbiAnteriorTibial, "abi.anterior-tibial")   \
  ROW(AbiMeanArms, "abi.mean-arms")               \
  ROW(AbiMeanAnkle, "abi.mean-ankle")             \
  ROW(AbiAfterExercise, "abi.after-exercise")     \
  ROW(Tbi, "tbi")                                 \
  ROW(AnkleToeGradient, "ankle-toe-gradient")     \
  ROW(ThighGradient, "segment.thigh")             \
  ROW(ThighCalfGradient, "segment.thigh-calf")    \
  ROW(CalfAnkleGradient, "segment.calf-ankle")    \
  ROW(ExerciseAnkleFall, "exercise.ankle-fall")   \
  ROW(ExerciseAbiFall, "exercise.abi-fall")       \
  ROW(AbiChange, "change.abi")                    \
  ROW(TbiChange, "change.tbi")                    \
  ROW(ToePressureChange, "change.toe-pressure")   \
  ROW(InterArmDifference, "inter-arm-difference")

/// What is derived from the readings: up to Tbi ratios, then differences in mmHg. Of the changes,
/// those of an index are hundredths with a sign; the fall of the index is a percentage.
enum class IndexKind : std::uint8_t {
#define FOOTBRIDGE_ROW(name, id) name,
  FOOTBRIDGE_INDICES(FOOTBRIDGE_ROW)
#undef FOOTBRIDGE_ROW
};

inline constexpr std::array kIndexIds{
#define FOOTBRIDGE_ROW(name, id) std::string_view{id},
    FOOTBRIDGE_INDICES(FOOTBRIDGE_ROW)
#undef FOOTBRIDGE_ROW
};

constexpr std::string_view id(IndexKind kind) { return kIndexIds[static_cast<std::size_t>(kind)]; }

constexpr bool isRatio(IndexKind kind) { return kind <= IndexKind::Tbi; }

}  // namespace footbridge
