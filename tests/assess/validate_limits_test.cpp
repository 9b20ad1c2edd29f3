// Limits and the entry errors that one figure gives away: bound, and one step to either side.

#include <gtest/gtest.h>

#include "validate_cases.hpp"

namespace footbridge::test {
namespace {

constexpr std::string_view kProposed = "docs/clinical.md, validation limits";
constexpr std::string_view kEntry = "docs/clinical.md, entry errors";
constexpr std::string_view kHard = "docs/clinical.md, reliability flags: incompressible";
constexpr std::string_view kRepeated = "docs/input.md, repeats";

void setAnkleRepeats(Assessment& visit, Content mean, const std::vector<Content>& repeats,
                     std::string_view unit = "") {
  setRepeats(visit, Item::AnkleDorsalisPedis, kLeft, std::move(mean), repeats, unit);
}

}  // namespace

constexpr Case kLimitCases[]{
    // arm
    {"arm 39.5 refused", "limit-refused", kFires, "/arms/right/systolic",
     [](Assessment& v) { set(v, Item::ArmSystolic, kRight, halves(79)); }, kProposed},
    {"arm 40 not refused", "limit-refused", kSilent, "",
     [](Assessment& v) { set(v, Item::ArmSystolic, kRight, mmhg(40)); }, kProposed},
    {"arm 300 not refused", "limit-refused", kSilent, "",
     [](Assessment& v) { set(v, Item::ArmSystolic, kLeft, mmhg(300)); }, kProposed},
    {"arm 300.5 refused", "limit-refused", kFires, "/arms/left/systolic",
     [](Assessment& v) { set(v, Item::ArmSystolic, kLeft, halves(601)); }, kProposed},
    {"arm 79.5 queried", "limit-queried", kFires, "/arms/right/systolic",
     [](Assessment& v) { set(v, Item::ArmSystolic, kRight, halves(159)); }, kProposed},
    {"arm 80 not queried", "limit-queried", kSilent, "",
     [](Assessment& v) { set(v, Item::ArmSystolic, kRight, mmhg(80)); }, kProposed},
    {"arm 250 not queried", "limit-queried", kSilent, "",
     [](Assessment& v) { set(v, Item::ArmSystolic, kRight, mmhg(250)); }, kProposed},
    {"arm 250.5 queried", "limit-queried", kFires, "/arms/right/systolic",
     [](Assessment& v) { set(v, Item::ArmSystolic, kRight, halves(501)); }, kProposed},
    // ankle
    {"ankle 39.5 queried", "limit-queried", kFires, "/legs/left/ankle/posteriorTibial",
     [](Assessment& v) { set(v, Item::AnklePosteriorTibial, kLeft, halves(79)); }, kProposed},
    {"ankle 40 not queried", "limit-queried", kSilent, "",
     [](Assessment& v) { set(v, Item::AnklePosteriorTibial, kLeft, mmhg(40)); }, kProposed},
    {"ankle 10 not refused", "limit-refused", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(10)); }, kProposed},
    {"ankle 250 not queried", "limit-queried", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(250)); }, kProposed},
    {"ankle 250.5 queried", "limit-queried", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, halves(501)); }, kProposed},
    {"ankle 300.5 refused", "limit-refused", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, halves(601)); }, kProposed},
    {"ankle above 300 not refused", "limit-refused", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(300), Comparator::Greater); },
     kProposed},
    {"ankle above 250 not queried", "limit-queried", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(251), Comparator::Greater); },
     kProposed},
    {"ankle above 310 refused", "limit-refused", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(310), Comparator::Greater); },
     kProposed},
    // toe, skin oxygen, capillary refill
    {"toe 9 queried", "limit-queried", kFires, "/legs/right/toe/pressure",
     [](Assessment& v) { set(v, Item::ToePressure, kRight, mmhg(9)); }, kProposed},
    {"toe 10 not queried", "limit-queried", kSilent, "",
     [](Assessment& v) { set(v, Item::ToePressure, kRight, mmhg(10)); }, kProposed},
    {"skin oxygen 90 not queried", "limit-queried", kSilent, "",
     [](Assessment& v) { set(v, Item::Tcpo2, kRight, mmhg(90)); }, kProposed},
    {"skin oxygen 91 queried", "limit-queried", kFires, "/legs/right/tcpo2",
     [](Assessment& v) { set(v, Item::Tcpo2, kRight, mmhg(91)); }, kProposed},
    {"skin oxygen 150 not refused", "limit-refused", kSilent, "",
     [](Assessment& v) { set(v, Item::Tcpo2, kRight, mmhg(150)); }, kProposed},
    {"skin oxygen 151 refused", "limit-refused", kFires, "/legs/right/tcpo2",
     [](Assessment& v) { set(v, Item::Tcpo2, kRight, mmhg(151)); }, kProposed},
    {"capillary refill 5 not queried", "limit-queried", kSilent, "",
     [](Assessment& v) { set(v, Item::CapillaryRefill, kRight, number("5")); }, kProposed},
    {"capillary refill 5.1 queried", "limit-queried", kFires, "/legs/right/capillaryRefill",
     [](Assessment& v) { set(v, Item::CapillaryRefill, kRight, number("5.1")); }, kProposed},
    {"capillary refill 60 not refused", "limit-refused", kSilent, "",
     [](Assessment& v) { set(v, Item::CapillaryRefill, kRight, number("60.0")); }, kProposed},
    {"capillary refill 61 refused", "limit-refused", kFires, "/legs/right/capillaryRefill",
     [](Assessment& v) { set(v, Item::CapillaryRefill, kRight, number("61")); }, kProposed},
    // zero, minus, placeholders
    {"minus one", "entry-negative", kFires, "/legs/right/wound/area",
     [](Assessment& v) { set(v, Item::WoundArea, kRight, number("-1")); }, kEntry},
    {"minus half a millimetre", "entry-negative", kFires, "/legs/right/toe/pressure",
     [](Assessment& v) { set(v, Item::ToePressure, kRight, halves(-1)); }, kEntry},
    {"nought is not minus", "entry-negative", kSilent, "",
     [](Assessment& v) { set(v, Item::WoundArea, kRight, number("0")); }, kEntry},
    {"ankle 0", "entry-zero", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(0)); }, kEntry},
    {"toe 0", "entry-zero", kFires, "/legs/left/toe/pressure",
     [](Assessment& v) { set(v, Item::ToePressure, kLeft, mmhg(0)); }, kEntry},
    {"arm 0", "entry-zero", kFires, "/arms/left/systolic",
     [](Assessment& v) { set(v, Item::ArmSystolic, kLeft, mmhg(0)); }, kEntry},
    {"ankle half a millimetre is not 0", "entry-zero", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, halves(1)); }, kEntry},
    {"no signal is not 0", "entry-zero", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, NoSignal{}); }, kEntry},
    {"skin oxygen 0 is not by cuff", "entry-zero", kSilent, "",
     [](Assessment& v) { set(v, Item::Tcpo2, kLeft, mmhg(0)); }, kEntry},
    {"ankle 999", "entry-placeholder", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(999)); }, kEntry},
    {"arm 888", "entry-placeholder", kFires, "/arms/left/systolic",
     [](Assessment& v) { set(v, Item::ArmSystolic, kLeft, mmhg(888)); }, kEntry},
    {"998 is only refused", "entry-placeholder", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(998)); }, kEntry},
    // codes for incompressible
    {"ankle 255", "entry-incompressible-code", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(255)); }, kEntry},
    {"ankle 300", "entry-incompressible-code", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(300)); }, kEntry},
    {"ankle 254", "entry-incompressible-code", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(254)); }, kEntry},
    {"ankle 256", "entry-incompressible-code", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(256)); }, kEntry},
    {"ankle above 300", "entry-incompressible-code", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(300), Comparator::Greater); },
     kEntry},
    {"arm 255", "entry-incompressible-code", kSilent, "",
     [](Assessment& v) { set(v, Item::ArmSystolic, kLeft, mmhg(255)); }, kEntry},
    // an index in the box of a pressure
    {"ankle 1", "entry-index", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(1)); }, kEntry},
    {"toe 2.5", "entry-index", kFires, "/legs/left/toe/pressure",
     [](Assessment& v) { set(v, Item::ToePressure, kLeft, halves(5)); }, kEntry},
    {"toe 3", "entry-index", kSilent, "",
     [](Assessment& v) { set(v, Item::ToePressure, kLeft, mmhg(3)); }, kEntry},
    // kPa
    {"arm 9.5", "entry-kpa", kSilent, "",
     [](Assessment& v) { set(v, Item::ArmSystolic, kLeft, halves(19)); }, kEntry},
    {"arm 10", "entry-kpa", kFires, "/arms/left/systolic",
     [](Assessment& v) { set(v, Item::ArmSystolic, kLeft, mmhg(10)); }, kEntry},
    {"arm 16", "entry-kpa", kFires, "/arms/left/systolic",
     [](Assessment& v) { set(v, Item::ArmSystolic, kLeft, mmhg(16)); }, kEntry},
    {"arm 34", "entry-kpa", kFires, "/arms/left/systolic",
     [](Assessment& v) { set(v, Item::ArmSystolic, kLeft, mmhg(34)); }, kEntry},
    {"arm 34.5", "entry-kpa", kSilent, "",
     [](Assessment& v) { set(v, Item::ArmSystolic, kLeft, halves(69)); }, kEntry},
    {"arm after exercise 18", "entry-kpa", kFires, "/arms/left/systolicAfterExercise",
     [](Assessment& v) { set(v, Item::ArmSystolicAfterExercise, kLeft, mmhg(18)); }, kEntry},
    {"diastolic 10.5", "entry-kpa", kFires, "/arms/left/diastolic",
     [](Assessment& v) { set(v, Item::ArmDiastolic, kLeft, halves(21)); }, kEntry},
    {"diastolic 17.5", "entry-kpa", kSilent, "",
     [](Assessment& v) { set(v, Item::ArmDiastolic, kLeft, halves(35)); }, kEntry},
    {"arterial carbon dioxide 5", "entry-kpa", kFires, "/systemic/paco2",
     [](Assessment& v) { set(v, Item::CarbonDioxide, kNone, mmhg(5)); }, kEntry},
    {"arterial carbon dioxide 10", "entry-kpa", kSilent, "",
     [](Assessment& v) { set(v, Item::CarbonDioxide, kNone, mmhg(10)); }, kEntry},
    {"arm sent in kPa", "entry-kpa", kSilent, "",
     [](Assessment& v) { setConverted(v, Item::ArmSystolic, kLeft, mmhg(30), "4.0 kPa"); }, kEntry},
    {"ankle 14.5", "entry-kpa-possible", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, halves(29)); }, kEntry},
    {"ankle 33.5", "entry-kpa-possible", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, halves(67)); }, kEntry},
    {"ankle 34.5", "entry-kpa-possible", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, halves(69)); }, kEntry},
    {"ankle 14", "entry-kpa-possible", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(14)); }, kEntry},
    // repeats
    {"a repeat of 255", "entry-incompressible-code", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) {
       setAnkleRepeats(v, halves(495), {mmhg(255), mmhg(240)});
     },
     kRepeated},
    {"a repeat of 300", "entry-incompressible-code", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) {
       setAnkleRepeats(v, mmhg(270), {mmhg(240), mmhg(300)});
     },
     kRepeated},
    {"repeats of which 255 is the mean only", "entry-incompressible-code", kSilent, "",
     [](Assessment& v) {
       setAnkleRepeats(v, mmhg(255), {mmhg(254), mmhg(256)});
     },
     kRepeated},
    {"repeats of 14.5 and 15", "entry-kpa-possible", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) {
       setAnkleRepeats(v, halves(29), {halves(29), mmhg(15)});
     },
     kRepeated},
    {"repeats of 14 and 15", "entry-kpa-possible", kSilent, "",
     [](Assessment& v) {
       setAnkleRepeats(v, halves(29), {mmhg(14), mmhg(15)});
     },
     kRepeated},
    {"repeats sent in kPa", "entry-kpa-possible", kSilent, "",
     [](Assessment& v) {
       setAnkleRepeats(v, mmhg(30), {halves(59), mmhg(30)}, "4.0 kPa");
     },
     kRepeated},
    {"a repeat of 0", "entry-zero", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) {
       setAnkleRepeats(v, mmhg(56), {mmhg(0), mmhg(112)});
     },
     kRepeated},
    {"a repeat of 1", "entry-index", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) {
       setAnkleRepeats(v, mmhg(56), {mmhg(1), mmhg(111)});
     },
     kRepeated},
    {"a repeat of 999", "entry-placeholder", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) {
       setAnkleRepeats(v, halves(1111), {mmhg(112), mmhg(999)});
     },
     kRepeated},
    {"a repeat below zero", "entry-negative", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) {
       setAnkleRepeats(v, mmhg(50), {mmhg(-12), mmhg(112)});
     },
     kRepeated},
    {"a repeat of 301", "limit-refused", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) {
       setAnkleRepeats(v, halves(591), {mmhg(290), mmhg(301)});
     },
     kRepeated},
    {"an arm repeat of 16", "entry-kpa", kFires, "/arms/left/systolic",
     [](Assessment& v) {
       setRepeats(v, Item::ArmSystolic, kLeft, mmhg(120), {mmhg(16), mmhg(120)});
     },
     kRepeated},
    {"repeats with a mean of 39", "limit-queried", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) {
       setAnkleRepeats(v, mmhg(39), {mmhg(38), mmhg(40)});
     },
     kRepeated},
    {"repeats with a mean of 40", "limit-queried", kSilent, "",
     [](Assessment& v) {
       setAnkleRepeats(v, mmhg(40), {mmhg(38), mmhg(42)});
     },
     kRepeated},
    // degrees Fahrenheit
    {"temperature 98.6", "entry-fahrenheit", kFires, "/systemic/temperature",
     [](Assessment& v) { set(v, Item::Temperature, kNone, number("98.6")); }, kEntry},
    {"temperature 90", "entry-fahrenheit", kFires, "/systemic/temperature",
     [](Assessment& v) { set(v, Item::Temperature, kNone, number("90")); }, kEntry},
    {"temperature 113.1", "entry-fahrenheit", kSilent, "",
     [](Assessment& v) { set(v, Item::Temperature, kNone, number("113.1")); }, kEntry},
    {"temperature 38.6", "entry-fahrenheit", kSilent, "",
     [](Assessment& v) { set(v, Item::Temperature, kNone, number("38.6")); }, kEntry},
    // where the cuff stopped
    {"hard at 249.5", "incompressible-limit-low", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, Incompressible{Pressure{499}}); },
     kHard},
    {"above 180", "incompressible-limit-low", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(180), Comparator::Greater); },
     kHard},
    {"toe above 60", "incompressible-limit-low", kSilent, "",
     [](Assessment& v) { set(v, Item::ToePressure, kLeft, mmhg(60), Comparator::Greater); }, kHard},
    {"hard at 250", "incompressible-limit-low", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, hard(250)); }, kHard},
    {"hard without limit", "incompressible-limit-low", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, hard()); }, kHard},
    {"below 40", "incompressible-limit-low", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, mmhg(40), Comparator::Less); },
     kHard},
    {"hard at 300", "incompressible-limit-high", kSilent, "",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, hard(300)); }, kHard},
    {"hard at 301", "incompressible-limit-high", kFires, "/legs/left/ankle/dorsalisPedis",
     [](Assessment& v) { set(v, Item::AnkleDorsalisPedis, kLeft, hard(301)); }, kHard},
};

std::span<const Case> limitCases() { return kLimitCases; }

namespace {

/// One unit, in the digits of the bound.
std::int64_t unitOf(const Decimal& bound) {
  std::int64_t unit = 1;
  for (std::uint8_t i = 0; i < bound.scale; ++i) unit *= 10;
  return unit;
}

Content contentOf(Item item, const Decimal& value) {
  if (tables().row(item).kind != Kind::Pressure) return value;
  const std::int64_t halvesOf = 2 * value.digits / unitOf(value);
  return Pressure{static_cast<std::int32_t>(halvesOf)};
}

Issues issuesWith(Item item, const Decimal& value) {
  Assessment visit = cleanVisit();
  const Side side = tables().row(item).sided ? kRight : kNone;
  set(visit, item, side, contentOf(item, value));
  Issues here;
  for (const Issue& issue : validate(visit, testNow(), tables())) {
    if (issue.place == tables().place(item, side)) here.push_back(issue);
  }
  return here;
}

void probeRefusal(Item item, const Decimal& bound, int outward) {
  const std::int64_t unit = unitOf(bound);
  const Decimal outside{bound.digits + outward * unit, bound.scale};
  const Decimal inside{bound.digits - outward * unit, bound.scale};
  EXPECT_TRUE(blocking(issuesWith(item, outside))) << id(item) << " " << outside.text();
  EXPECT_TRUE(ofRule(issuesWith(item, bound), "limit-refused").empty()) << id(item);
  EXPECT_TRUE(ofRule(issuesWith(item, inside), "limit-refused").empty()) << id(item);
}

void probeQuery(Item item, const Decimal& bound, int outward) {
  const std::int64_t unit = unitOf(bound);
  const Decimal outside{bound.digits + outward * unit, bound.scale};
  const Decimal inside{bound.digits - outward * unit, bound.scale};
  EXPECT_FALSE(issuesWith(item, outside).empty()) << id(item) << " " << outside.text();
  EXPECT_TRUE(ofRule(issuesWith(item, bound), "limit-queried").empty()) << id(item);
  EXPECT_TRUE(ofRule(issuesWith(item, inside), "limit-queried").empty()) << id(item);
}

TEST(ValidateLimits, HoldAtEveryBoundOfEveryItem) {
  for (const ItemRow& row : tables().items) {
    const Limits& limits = row.limits;
    if (limits.rejectBelow) probeRefusal(row.item, *limits.rejectBelow, -1);
    if (limits.rejectAbove) probeRefusal(row.item, *limits.rejectAbove, 1);
    if (limits.queryBelow) probeQuery(row.item, *limits.queryBelow, -1);
    if (limits.queryAbove) probeQuery(row.item, *limits.queryAbove, 1);
  }
}

TEST(ValidateLimits, SayOneThingOfOneFigure) {
  for (const std::int32_t typed : {-5, 0, 1, 16, 30, 79, 251, 255, 300, 310, 888, 999}) {
    Assessment visit = cleanVisit();
    unset(visit, Item::ArmDiastolic, kRight);
    set(visit, Item::ArmSystolic, kRight, mmhg(typed));
    std::size_t remarks = 0;
    for (const Issue& issue : validate(visit, testNow(), tables())) {
      if (issue.place == "/arms/right/systolic" && issue.rule != "entry-digits-exchanged") {
        ++remarks;
      }
    }
    EXPECT_EQ(remarks, 1U) << typed;
  }
}

TEST(ValidateLimits, ConvertKilopascalsWithTheUcumFactor) {
  Assessment visit = cleanVisit();
  set(visit, Item::ArmSystolic, kRight, mmhg(16));
  const Issues found = ofRule(validate(visit, testNow(), tables()), "entry-kpa");
  ASSERT_EQ(found.size(), 1U);
  // 16.0 / 0.133322 = 120.01
  EXPECT_NE(found.front().text.find("120 mmHg"), std::string::npos) << found.front().text;
}

TEST(ValidateLimits, LeaveAbsencesAndFindingsAlone) {
  Assessment visit = cleanVisit();
  set(visit, Item::AnkleDorsalisPedis, kRight, absent());
  set(visit, Item::AnklePosteriorTibial, kRight, hard(300));
  for (const Issue& issue : validate(visit, testNow(), tables())) {
    EXPECT_NE(issue.rule, "limit-refused");
    EXPECT_NE(issue.rule, "limit-queried");
  }
}

}  // namespace
}  // namespace footbridge::test
