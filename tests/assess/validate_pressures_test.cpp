// Pressures against each other, pulses and sounds against pressures, readings against amputations.

#include <gtest/gtest.h>

#include "validate_cases.hpp"

namespace footbridge::test {
namespace {

constexpr std::string_view kProposed = "docs/clinical.md, validation limits";
constexpr std::string_view kEntry = "docs/clinical.md, entry errors";
constexpr std::string_view kExercise = "docs/clinical.md, exercise";
constexpr std::string_view kPulses = "docs/clinical.md, waveforms and pulses";
constexpr std::string_view kOurs = "our choice, mapping/rules.json";

/// Pressures after exercise in both legs, with all that belongs to them.
void setExercise(Assessment& visit) {
  set(visit, Item::ExerciseProtocol, kNone, said("treadmill"));
  set(visit, Item::ExerciseMinutesAfter, kNone, number("1"));
  set(visit, Item::ArmSystolicAfterExercise, kRight, mmhg(158));
  set(visit, Item::ExerciseDorsalisPedis, kRight, mmhg(131));
  set(visit, Item::ExerciseDorsalisPedis, kLeft, mmhg(127));
}

void setAmputation(Assessment& visit, Side side, std::string_view level) {
  unsetLeg(visit, side);
  set(visit, Item::HistoryAmputation, side, said(level));
}

}  // namespace

constexpr Case kPressureCases[]{
    {"toe at the ankle's pressure", "toe-above-ankle", kSilent, "",
     [](Assessment& v) { set(v, Item::ToePressure, kRight, mmhg(134)); }, kProposed},
    {"toe half above the ankle", "toe-above-ankle", kFires, "/legs/right/toe/pressure",
     [](Assessment& v) { set(v, Item::ToePressure, kRight, halves(269)); }, kProposed},
    {"toe above an ankle with a hard artery", "toe-above-ankle", kSilent, "",
     [](Assessment& v) {
       set(v, Item::ToePressure, kRight, mmhg(136));
       set(v, Item::AnklePosteriorTibial, kRight, hard(300));
     },
     kProposed},
    {"toe above an ankle with a silent artery", "toe-above-ankle", kSilent, "",
     [](Assessment& v) {
       set(v, Item::ToePressure, kRight, mmhg(136));
       set(v, Item::AnklePeroneal, kRight, NoSignal{});
     },
     kProposed},
    {"toe without ankle", "toe-above-ankle", kSilent, "",
     [](Assessment& v) {
       set(v, Item::ToePressure, kRight, mmhg(136));
       unset(v, Item::AnkleDorsalisPedis, kRight);
       unset(v, Item::AnklePosteriorTibial, kRight);
     },
     kProposed},
    {"toe at the higher arm's pressure", "toe-above-arm", kSilent, "",
     [](Assessment& v) { set(v, Item::ToePressure, kLeft, mmhg(132)); }, kProposed},
    {"toe half above the higher arm", "toe-above-arm", kFires, "/legs/left/toe/pressure",
     [](Assessment& v) { set(v, Item::ToePressure, kLeft, halves(265)); }, kProposed},
    {"diastolic equals systolic", "diastolic-not-below-systolic", kFires, "/arms/left/diastolic",
     [](Assessment& v) { set(v, Item::ArmDiastolic, kLeft, mmhg(128)); }, kEntry},
    {"diastolic half below systolic", "diastolic-not-below-systolic", kSilent, "",
     [](Assessment& v) { set(v, Item::ArmDiastolic, kLeft, halves(255)); }, kEntry},
    {"diastolic above the other arm only", "diastolic-not-below-systolic", kSilent, "",
     [](Assessment& v) {
       set(v, Item::ArmSystolic, kRight, mmhg(190));
       set(v, Item::ArmDiastolic, kRight, mmhg(130));
     },
     kEntry},

    {"exercise without rest", "exercise-without-rest", kFires, "/legs/left/exercise/dorsalisPedis",
     [](Assessment& v) {
       setExercise(v);
       unset(v, Item::AnkleDorsalisPedis, kLeft);
     },
     kEntry},
    {"exercise with rest absent", "exercise-without-rest", kFires,
     "/legs/left/exercise/dorsalisPedis",
     [](Assessment& v) {
       setExercise(v);
       set(v, Item::AnkleDorsalisPedis, kLeft, absent());
     },
     kEntry},
    {"exercise with rest", "exercise-without-rest", kSilent, "", setExercise, kEntry},
    {"exercise with a silent artery at rest", "exercise-without-rest", kSilent, "",
     [](Assessment& v) {
       setExercise(v);
       set(v, Item::AnkleDorsalisPedis, kLeft, NoSignal{});
     },
     kEntry},
    {"exercise without arm", "exercise-arm-missing", kFires, "/arms/right/systolicAfterExercise",
     [](Assessment& v) {
       setExercise(v);
       unset(v, Item::ArmSystolicAfterExercise, kRight);
     },
     kOurs},
    {"exercise with one arm", "exercise-arm-missing", kSilent, "", setExercise, kOurs},
    {"no exercise, no arm after it", "exercise-arm-missing", kSilent, "", [](Assessment&) {},
     kOurs},
    {"exercise without minutes", "exercise-minutes-missing", kFires, "/exercise/minutesAfter",
     [](Assessment& v) {
       setExercise(v);
       unset(v, Item::ExerciseMinutesAfter, kNone);
     },
     kExercise},
    {"exercise with minutes", "exercise-minutes-missing", kSilent, "", setExercise, kExercise},
    {"exercise without protocol", "exercise-protocol-missing", kFires, "/exercise/protocol",
     [](Assessment& v) {
       setExercise(v);
       unset(v, Item::ExerciseProtocol, kNone);
     },
     kExercise},
    {"exercise with protocol", "exercise-protocol-missing", kSilent, "", setExercise, kExercise},
    {"exercise without a leg", "exercise-without-legs", kFires, "/legs",
     [](Assessment& v) { set(v, Item::ExerciseProtocol, kNone, said("treadmill")); }, kEntry},
    {"exercise with legs", "exercise-without-legs", kSilent, "", setExercise, kEntry},
};

std::span<const Case> pressureCases() { return kPressureCases; }

constexpr Case kSignalCases[]{
    {"pulse felt, Doppler silent", "pulse-without-signal", kFires,
     "/legs/right/pulses/dorsalisPedis",
     [](Assessment& v) { set(v, Item::DopplerDorsalisPedis, kRight, said("no-signal")); }, kPulses},
    {"reduced pulse, ankle silent", "pulse-without-signal", kFires,
     "/legs/right/pulses/posteriorTibial",
     [](Assessment& v) {
       set(v, Item::PulsePosteriorTibial, kRight, said("reduced"));
       set(v, Item::AnklePosteriorTibial, kRight, NoSignal{});
     },
     kPulses},
    {"graded popliteal pulse, Doppler silent", "pulse-without-signal", kFires,
     "/legs/left/pulses/popliteal",
     [](Assessment& v) {
       set(v, Item::PulsePopliteal, kLeft, graded("0-3", 2, "normal"));
       set(v, Item::DopplerPopliteal, kLeft, said("no-signal"));
     },
     kPulses},
    {"no pulse, Doppler silent", "pulse-without-signal", kSilent, "",
     [](Assessment& v) {
       set(v, Item::PulseDorsalisPedis, kRight, said("absent"));
       set(v, Item::DopplerDorsalisPedis, kRight, said("no-signal"));
     },
     kPulses},
    {"pulse not examined, Doppler silent", "pulse-without-signal", kSilent, "",
     [](Assessment& v) {
       set(v, Item::PulseDorsalisPedis, kRight, absent());
       set(v, Item::DopplerDorsalisPedis, kRight, said("no-signal"));
     },
     kPulses},
    {"pulse felt, other artery silent", "pulse-without-signal", kSilent, "",
     [](Assessment& v) { set(v, Item::DopplerPeroneal, kRight, said("no-signal")); }, kPulses},

    {"normal pulse at 49.5", "pulse-normal-pressure-low", kFires,
     "/legs/right/pulses/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kRight, halves(99)); }, kOurs},
    {"normal pulse at 50", "pulse-normal-pressure-low", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kRight, mmhg(50)); }, kOurs},
    {"reduced pulse at 45", "pulse-normal-pressure-low", kSilent, "",
     [](Assessment& v) {
       set(v, Item::PulseDorsalisPedis, kRight, said("reduced"));
       set(v, Item::AnkleDorsalisPedis, kRight, mmhg(45));
     },
     kOurs},

    {"Doppler silent, pressure read", "doppler-silent-with-pressure", kFires,
     "/legs/right/doppler/peroneal",
     [](Assessment& v) {
       set(v, Item::DopplerPeroneal, kRight, said("no-signal"));
       set(v, Item::AnklePeroneal, kRight, mmhg(88));
     },
     kPulses},
    {"Doppler silent, artery hard", "doppler-silent-with-pressure", kFires,
     "/legs/right/doppler/anteriorTibial",
     [](Assessment& v) {
       set(v, Item::DopplerAnteriorTibial, kRight, said("no-signal"));
       set(v, Item::AnkleAnteriorTibial, kRight, hard(300));
     },
     kPulses},
    {"Doppler and ankle silent", "doppler-silent-with-pressure", kSilent, "",
     [](Assessment& v) {
       set(v, Item::DopplerPeroneal, kRight, said("no-signal"));
       set(v, Item::AnklePeroneal, kRight, NoSignal{});
     },
     kPulses},
    {"Doppler silent, pressure absent", "doppler-silent-with-pressure", kSilent, "",
     [](Assessment& v) {
       set(v, Item::DopplerPeroneal, kRight, said("no-signal"));
       set(v, Item::AnklePeroneal, kRight, absent());
     },
     kPulses},
    {"triphasic, ankle silent", "doppler-heard-without-pressure-signal", kFires,
     "/legs/left/doppler/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, NoSignal{}); }, kPulses},
    {"monophasic, ankle silent", "doppler-heard-without-pressure-signal", kFires,
     "/legs/left/doppler/peroneal",
     [](Assessment& v) {
       set(v, Item::DopplerPeroneal, kLeft, said("monophasic"));
       set(v, Item::AnklePeroneal, kLeft, NoSignal{});
     },
     kPulses},
    {"triphasic, pressure absent", "doppler-heard-without-pressure-signal", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, absent()); }, kPulses},

    {"grade 4 on 0 to 3", "pulse-grade-outside-scale", kFires, "/legs/right/pulses/femoral",
     [](Assessment& v) { set(v, Item::PulseFemoral, kRight, graded("0-3", 4, "")); }, kPulses},
    {"grade minus 1 on 0 to 3", "pulse-grade-outside-scale", kFires, "/legs/right/pulses/femoral",
     [](Assessment& v) { set(v, Item::PulseFemoral, kRight, graded("0-3", -1, "")); }, kPulses},
    {"grade 3 on 0 to 3", "pulse-grade-outside-scale", kSilent, "",
     [](Assessment& v) { set(v, Item::PulseFemoral, kRight, graded("0-3", 3, "increased")); },
     kPulses},
    {"grade 0 on 0 to 3", "pulse-grade-outside-scale", kSilent, "",
     [](Assessment& v) { set(v, Item::PulseFemoral, kRight, graded("0-3", 0, "absent")); },
     kPulses},
    {"a scale nobody knows", "pulse-scale-unknown", kFires, "/legs/right/pulses/femoral",
     [](Assessment& v) { set(v, Item::PulseFemoral, kRight, graded("0-99", 2, "")); }, kPulses},
    {"a scale that is known", "pulse-scale-unknown", kSilent, "",
     [](Assessment& v) { set(v, Item::PulseFemoral, kRight, graded("0-3", 2, "normal")); },
     kPulses},
    {"grade 1 on 0 to 4 B", "pulse-grade-unnamed", kFires, "/legs/right/pulses/femoral",
     [](Assessment& v) { set(v, Item::PulseFemoral, kRight, graded("0-4-b", 1, "")); }, kPulses},
    {"grade 1 on 0 to 3", "pulse-grade-unnamed", kSilent, "",
     [](Assessment& v) { set(v, Item::PulseFemoral, kRight, graded("0-3", 1, "reduced")); },
     kPulses},
};

std::span<const Case> signalCases() { return kSignalCases; }

constexpr Case kAmputationCases[]{
    {"below the knee with ankle pressure", "amputated-leg-has-reading", kFires,
     "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) {
       setAmputation(v, kLeft, "below-knee");
       set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(110));
     },
     kEntry},
    {"below the knee with toe pressure", "amputated-leg-has-reading", kFires,
     "/legs/left/toe/pressure",
     [](Assessment& v) {
       setAmputation(v, kLeft, "below-knee");
       set(v, Item::ToePressure, kLeft, mmhg(80));
     },
     kEntry},
    {"above the knee with calf pressure", "amputated-leg-has-reading", kFires,
     "/legs/left/segments/calf",
     [](Assessment& v) {
       setAmputation(v, kLeft, "above-knee");
       set(v, Item::SegmentCalf, kLeft, mmhg(110));
     },
     kEntry},
    {"below the knee with calf pressure and skin oxygen", "amputated-leg-has-reading", kSilent, "",
     [](Assessment& v) {
       setAmputation(v, kLeft, "below-knee");
       set(v, Item::SegmentCalf, kLeft, mmhg(110));
       set(v, Item::Tcpo2, kLeft, mmhg(40));
       set(v, Item::PulsePopliteal, kLeft, said("normal"));
     },
     kEntry},
    {"below the knee, ankle marked absent", "amputated-leg-has-reading", kSilent, "",
     [](Assessment& v) {
       setAmputation(v, kLeft, "below-knee");
       set(v, Item::AnkleDorsalisPedis, kLeft, absent(AbsentReason::NotApplicable));
     },
     kEntry},
    {"no amputation", "amputated-leg-has-reading", kSilent, "",
     [](Assessment& v) { set(v, Item::HistoryAmputation, kLeft, said("none")); }, kEntry},

    {"great toe gone and measured", "amputated-toe-has-pressure", kFires, "/legs/left/toe/pressure",
     [](Assessment& v) { set(v, Item::HistoryAmputation, kLeft, said("great-toe")); }, kEntry},
    {"forefoot gone and second toe measured", "amputated-toe-has-pressure", kFires,
     "/legs/left/toe/pressure",
     [](Assessment& v) {
       set(v, Item::HistoryAmputation, kLeft, said("forefoot"));
       set(v, Item::ToeDigit, kLeft, said("second"));
     },
     kEntry},
    {"great toe gone, second measured", "amputated-toe-has-pressure", kSilent, "",
     [](Assessment& v) {
       set(v, Item::HistoryAmputation, kLeft, said("great-toe"));
       set(v, Item::ToeDigit, kLeft, said("second"));
     },
     kEntry},
    {"a lesser toe gone, great toe measured", "amputated-toe-has-pressure", kSilent, "",
     [](Assessment& v) { set(v, Item::HistoryAmputation, kLeft, said("lesser-toe")); }, kEntry},
    {"great toe gone, toe not named", "amputated-toe-unclear", kFires, "/legs/left/toe/digit",
     [](Assessment& v) {
       set(v, Item::HistoryAmputation, kLeft, said("great-toe"));
       unset(v, Item::ToeDigit, kLeft);
     },
     kEntry},
    {"great toe gone, toe named", "amputated-toe-unclear", kSilent, "",
     [](Assessment& v) {
       set(v, Item::HistoryAmputation, kLeft, said("great-toe"));
       set(v, Item::ToeDigit, kLeft, said("second"));
     },
     kEntry},
    {"rest pain after an amputation below the knee", "amputated-part-has-finding", kFires,
     "/legs/left/restPain/present",
     [](Assessment& v) {
       setAmputation(v, kLeft, "below-knee");
       set(v, Item::RestPain, kLeft, said("present"));
     },
     kEntry},
    {"capillary refill after an amputation above the knee", "amputated-part-has-finding", kFires,
     "/legs/left/capillaryRefill",
     [](Assessment& v) {
       setAmputation(v, kLeft, "above-knee");
       set(v, Item::CapillaryRefill, kLeft, Decimal{3, 0});
     },
     kEntry},
    {"no rest pain after an amputation", "amputated-part-has-finding", kSilent, "",
     [](Assessment& v) {
       setAmputation(v, kLeft, "below-knee");
       set(v, Item::RestPain, kLeft, said("absent"));
     },
     kEntry},
    {"rest pain with a forefoot gone", "amputated-part-has-finding", kSilent, "",
     [](Assessment& v) {
       setAmputation(v, kLeft, "forefoot");
       set(v, Item::RestPain, kLeft, said("present"));
     },
     kEntry},
    {"heel wound below an amputation below the knee", "amputated-part-has-wound", kFires,
     "/legs/left/wound/site",
     [](Assessment& v) {
       setAmputation(v, kLeft, "below-knee");
       set(v, Item::WoundDepth, kLeft, said("superficial"));
       set(v, Item::WoundSite, kLeft, said("heel"));
     },
     kEntry},
    {"lower-leg wound below an amputation above the knee", "amputated-part-has-wound", kFires,
     "/legs/left/wound/site",
     [](Assessment& v) {
       setAmputation(v, kLeft, "above-knee");
       set(v, Item::WoundSite, kLeft, said("lower-leg"));
     },
     kEntry},
    {"toe wound after loss of the forefoot", "amputated-part-has-wound", kFires,
     "/legs/left/wound/site",
     [](Assessment& v) {
       set(v, Item::HistoryAmputation, kLeft, said("forefoot"));
       set(v, Item::WoundSite, kLeft, said("toe"));
     },
     kEntry},
    {"wound on a stump below the knee", "amputated-part-has-wound", kSilent, "",
     [](Assessment& v) {
       setAmputation(v, kLeft, "below-knee");
       set(v, Item::WoundDepth, kLeft, said("superficial"));
       set(v, Item::WoundSite, kLeft, said("lower-leg"));
     },
     kEntry},
    {"heel wound after loss of the forefoot", "amputated-part-has-wound", kSilent, "",
     [](Assessment& v) {
       set(v, Item::HistoryAmputation, kLeft, said("forefoot"));
       set(v, Item::WoundSite, kLeft, said("heel"));
     },
     kEntry},
};

std::span<const Case> amputationCases() { return kAmputationCases; }

}  // namespace footbridge::test
