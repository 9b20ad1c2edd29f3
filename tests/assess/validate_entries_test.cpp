// Entry errors that several readings together give away.

#include <gtest/gtest.h>

#include "validate_cases.hpp"

namespace footbridge::test {
namespace {

constexpr std::string_view kEntry = "docs/clinical.md, entry errors";
constexpr std::string_view kOurs = "our choice, mapping/rules.json";
constexpr std::string_view kCalcified = "docs/clinical.md, reliability flags: ankle far above arm";

void setAnkles(Assessment& visit, Side side, std::int32_t dorsalis, std::int32_t tibial) {
  set(visit, Item::AnkleDorsalisPedis, side, mmhg(dorsalis));
  set(visit, Item::AnklePosteriorTibial, side, mmhg(tibial));
}

/// Right leg with a wound and a good pressure, left leg well and at `there`.
void setWounded(Assessment& visit, std::int32_t there) {
  set(visit, Item::WoundDepth, kRight, said("superficial"));
  setAnkles(visit, kRight, 120, 118);
  setAnkles(visit, kLeft, there, there - 4);
}

}  // namespace

constexpr Case kEntryCases[]{
    {"ankle equals arm, other artery 40 away", "entry-arm-in-ankle", kFires,
     "/legs/right/ankle/dorsalisPedis", [](Assessment& v) { setAnkles(v, kRight, 132, 92); },
     kOurs},
    {"ankle equals arm, other artery 39.5 away", "entry-arm-in-ankle", kSilent, "",
     [](Assessment& v) {
       setAnkles(v, kRight, 132, 92);
       set(v, Item::AnklePosteriorTibial, kRight, halves(185));
     },
     kOurs},
    {"ankle equals the other side's arm", "entry-arm-in-ankle", kSilent, "",
     [](Assessment& v) { setAnkles(v, kRight, 128, 70); }, kOurs},
    {"ankle equals arm, one artery only", "entry-arm-in-ankle", kSilent, "",
     [](Assessment& v) {
       set(v, Item::AnkleDorsalisPedis, kRight, mmhg(132));
       unset(v, Item::AnklePosteriorTibial, kRight);
     },
     kOurs},

    {"ankle 75 above arm", "entry-ankle-far-above-arm", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(207)); }, kCalcified},
    {"ankle 75.5 above arm", "entry-ankle-far-above-arm", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, halves(415)); }, kCalcified},
    {"ankle 999 is refused and no more", "entry-ankle-far-above-arm", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(999)); }, kCalcified},
    {"ankle 76 above the lower arm only", "entry-ankle-far-above-arm", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(204)); }, kCalcified},

    {"arms 130 and 310", "entry-digits-exchanged", kFires, "/arms/left/systolic",
     [](Assessment& v) {
       set(v, Item::ArmSystolic, kRight, mmhg(130));
       set(v, Item::ArmSystolic, kLeft, mmhg(310));
     },
     kEntry},
    {"arms 120 and 220 turned is the same", "entry-digits-exchanged", kSilent, "",
     [](Assessment& v) {
       set(v, Item::ArmSystolic, kRight, mmhg(120));
       set(v, Item::ArmSystolic, kLeft, mmhg(220));
     },
     kEntry},
    {"ankles 110 and 210, 10 from it", "entry-digits-exchanged", kFires,
     "/legs/right/ankle/posteriorTibial",
     [](Assessment& v) {
       set(v, Item::AnklePosteriorTibial, kRight, mmhg(210));
       set(v, Item::AnklePosteriorTibial, kLeft, mmhg(110));
     },
     kOurs},
    {"ankles 109 and 210, 11 from it", "entry-digits-exchanged", kSilent, "",
     [](Assessment& v) {
       unset(v, Item::AnkleDorsalisPedis, kRight);
       set(v, Item::AnklePosteriorTibial, kRight, mmhg(210));
       set(v, Item::AnklePosteriorTibial, kLeft, mmhg(109));
     },
     kOurs},
    {"ankles 102 and 20 lose a digit", "entry-digits-exchanged", kSilent, "",
     [](Assessment& v) {
       set(v, Item::AnklePosteriorTibial, kRight, mmhg(102));
       set(v, Item::AnklePosteriorTibial, kLeft, mmhg(20));
     },
     kOurs},
    {"toes 19 and 91 are two digits", "entry-digits-exchanged", kSilent, "",
     [](Assessment& v) {
       set(v, Item::ToePressure, kRight, mmhg(91));
       set(v, Item::ToePressure, kLeft, mmhg(19));
     },
     kOurs},

    {"amputated leg read, whole leg not applicable", "entry-sides-exchanged-amputation", kFires,
     "/legs/right/history/amputation",
     [](Assessment& v) {
       set(v, Item::HistoryAmputation, kRight, said("below-knee"));
       unsetLeg(v, kLeft);
       set(v, Item::AnkleDorsalisPedis, kLeft, absent(AbsentReason::NotApplicable));
     },
     kEntry},
    {"amputated leg read, whole leg not performed", "entry-sides-exchanged-amputation", kSilent, "",
     [](Assessment& v) {
       set(v, Item::HistoryAmputation, kRight, said("below-knee"));
       unsetLeg(v, kLeft);
       set(v, Item::AnkleDorsalisPedis, kLeft, absent(AbsentReason::NotPerformed));
     },
     kEntry},
    {"amputated leg not applicable, whole leg read", "entry-sides-exchanged-amputation", kSilent,
     "",
     [](Assessment& v) {
       unsetLeg(v, kLeft);
       set(v, Item::HistoryAmputation, kLeft, said("below-knee"));
       set(v, Item::AnkleDorsalisPedis, kLeft, absent(AbsentReason::NotApplicable));
     },
     kEntry},

    {"well leg 40 lower than wounded leg", "entry-sides-exchanged-wound", kFires, "/legs",
     [](Assessment& v) { setWounded(v, 80); }, kOurs},
    {"well leg 39 lower than wounded leg", "entry-sides-exchanged-wound", kSilent, "",
     [](Assessment& v) { setWounded(v, 81); }, kOurs},
    {"well leg low but its pulse reduced", "entry-sides-exchanged-wound", kSilent, "",
     [](Assessment& v) {
       setWounded(v, 80);
       set(v, Item::PulseDorsalisPedis, kLeft, said("reduced"));
     },
     kOurs},
    {"both legs wounded", "entry-sides-exchanged-wound", kSilent, "",
     [](Assessment& v) {
       setWounded(v, 80);
       set(v, Item::WoundDepth, kLeft, said("superficial"));
     },
     kOurs},
    {"well leg not said to be without wound", "entry-sides-exchanged-wound", kSilent, "",
     [](Assessment& v) {
       setWounded(v, 80);
       unset(v, Item::WoundDepth, kLeft);
     },
     kOurs},

    {"four ankle pressures alike", "entry-copied-ankle", kFires, "/legs",
     [](Assessment& v) {
       setAnkles(v, kRight, 122, 122);
       setAnkles(v, kLeft, 122, 122);
     },
     kEntry},
    {"three of four alike", "entry-copied-ankle", kSilent, "",
     [](Assessment& v) {
       setAnkles(v, kRight, 122, 122);
       setAnkles(v, kLeft, 122, 121);
     },
     kEntry},
    {"only three read, all alike", "entry-copied-ankle", kSilent, "",
     [](Assessment& v) {
       setAnkles(v, kRight, 122, 122);
       setAnkles(v, kLeft, 122, 122);
       unset(v, Item::AnkleDorsalisPedis, kLeft);
     },
     kEntry},
    {"left leg equals right leg in three", "entry-copied-leg", kFires, "/legs",
     [](Assessment& v) {
       setAnkles(v, kLeft, 128, 134);
       set(v, Item::ToePressure, kLeft, mmhg(96));
     },
     kOurs},
    {"left leg equals right leg in two of two", "entry-copied-leg", kSilent, "",
     [](Assessment& v) {
       setAnkles(v, kLeft, 128, 134);
       unset(v, Item::ToePressure, kLeft);
     },
     kOurs},
    {"left leg equals right leg in two of three", "entry-copied-leg", kSilent, "",
     [](Assessment& v) { setAnkles(v, kLeft, 128, 134); }, kOurs},

    {"six pressures end in 0 or 5", "entry-end-digits", kFires, "",
     [](Assessment& v) {
       set(v, Item::ArmSystolic, kRight, mmhg(130));
       set(v, Item::ArmSystolic, kLeft, mmhg(125));
       setAnkles(v, kRight, 125, 130);
       setAnkles(v, kLeft, 120, 115);
       unset(v, Item::ToePressure, kRight);
       unset(v, Item::ToePressure, kLeft);
     },
     kEntry},
    {"five pressures end in 0 or 5", "entry-end-digits", kSilent, "",
     [](Assessment& v) {
       set(v, Item::ArmSystolic, kRight, mmhg(130));
       unset(v, Item::ArmSystolic, kLeft);
       setAnkles(v, kRight, 125, 130);
       setAnkles(v, kLeft, 120, 115);
       unset(v, Item::ToePressure, kRight);
       unset(v, Item::ToePressure, kLeft);
     },
     kOurs},
    {"one of seven ends in 7.5", "entry-end-digits", kSilent, "",
     [](Assessment& v) {
       set(v, Item::ArmSystolic, kRight, mmhg(130));
       set(v, Item::ArmSystolic, kLeft, mmhg(125));
       setAnkles(v, kRight, 125, 130);
       setAnkles(v, kLeft, 120, 115);
       set(v, Item::ToePressure, kRight, halves(175));
       unset(v, Item::ToePressure, kLeft);
     },
     kEntry},
};

std::span<const Case> entryCases() { return kEntryCases; }

namespace {

TEST(ValidateEntries, SayThatADigitExchangeIsOnlyPossible) {
  Assessment visit = cleanVisit();
  set(visit, Item::ArmSystolic, kRight, mmhg(130));
  set(visit, Item::ArmSystolic, kLeft, mmhg(310));
  const Issues found = ofRule(validate(visit, testNow(), tables()), "entry-digits-exchanged");
  ASSERT_EQ(found.size(), 1U);
  EXPECT_EQ(found.front().severity, Severity::Warning);
  EXPECT_NE(found.front().text.find("possibly"), std::string::npos);
}

TEST(ValidateEntries, DoNotCountConvertedPressuresAsRounded) {
  Assessment visit = cleanVisit();
  for (const Reading& reading : cleanVisit().readings) {
    if (!std::holds_alternative<Pressure>(reading.content)) continue;
    setConverted(visit, reading.item, reading.side, mmhg(120), "16.0 kPa");
  }
  EXPECT_TRUE(ofRule(validate(visit, testNow(), tables()), "entry-end-digits").empty());
}

}  // namespace
}  // namespace footbridge::test
