// What was said, against what else was said: symptoms, wounds, infection, stated grades, method.

#include <gtest/gtest.h>

#include "validate_cases.hpp"

namespace footbridge::test {
namespace {

constexpr std::string_view kEntry = "docs/clinical.md, entry errors";
constexpr std::string_view kWifi = "docs/clinical.md, WIfI";
constexpr std::string_view kStages = "docs/clinical.md, Fontaine and Rutherford";
constexpr std::string_view kMethod = "docs/clinical.md, method of the ankle index";
constexpr std::string_view kToe = "docs/clinical.md, toe pressure";
constexpr std::string_view kOurs = "our choice, mapping/rules.json";

void denyEverySign(Assessment& visit, Side side) {
  for (const Item item : {Item::InfectionSwelling, Item::InfectionTenderness, Item::InfectionWarmth,
                          Item::InfectionPus}) {
    set(visit, item, side, said("absent"));
  }
  set(visit, Item::InfectionErythema, side, number("0"));
  set(visit, Item::InfectionDeep, side, said("none"));
}

}  // namespace

constexpr Case kStatementCases[]{
    {"days of a rest pain that is absent", "detail-of-what-is-absent", kFires,
     "/legs/right/restPain/days",
     [](Assessment& v) { set(v, Item::RestPainDays, kRight, number("20")); }, kEntry},
    {"distance of a claudication that is absent", "detail-of-what-is-absent", kFires,
     "/legs/right/claudication/distance",
     [](Assessment& v) { set(v, Item::ClaudicationDistance, kRight, number("150")); }, kEntry},
    {"area of a wound that is none", "detail-of-what-is-absent", kFires, "/legs/right/wound/area",
     [](Assessment& v) { set(v, Item::WoundArea, kRight, number("2.5")); }, kEntry},
    {"days of a wound that is none", "detail-of-what-is-absent", kFires, "/legs/right/wound/days",
     [](Assessment& v) { set(v, Item::WoundDays, kRight, number("3")); }, kEntry},
    {"nought days of a rest pain that is absent", "detail-of-what-is-absent", kSilent, "",
     [](Assessment& v) { set(v, Item::RestPainDays, kRight, number("0")); }, kEntry},
    {"days of a rest pain", "detail-of-what-is-absent", kSilent, "",
     [](Assessment& v) {
       set(v, Item::RestPain, kRight, said("present"));
       set(v, Item::RestPainDays, kRight, number("20"));
     },
     kEntry},
    {"days of a gangrene without wound", "detail-of-what-is-absent", kSilent, "",
     [](Assessment& v) {
       set(v, Item::Gangrene, kRight, said("digits"));
       set(v, Item::WoundDays, kRight, number("20"));
     },
     kWifi},
    {"days of a rest pain nobody stated", "detail-without-statement", kFires,
     "/legs/right/restPain/days",
     [](Assessment& v) {
       unset(v, Item::RestPain, kRight);
       set(v, Item::RestPainDays, kRight, number("20"));
     },
     kOurs},
    {"site of a wound whose depth could not be seen", "detail-without-statement", kSilent, "",
     [](Assessment& v) {
       set(v, Item::WoundDepth, kRight, absent());
       set(v, Item::WoundSite, kRight, said("heel"));
     },
     kOurs},
    {"days of a rest pain that was stated", "detail-without-statement", kSilent, "",
     [](Assessment& v) {
       set(v, Item::RestPain, kRight, said("present"));
       set(v, Item::RestPainDays, kRight, number("20"));
     },
     kOurs},

    {"gangrene without wound", "wound-none-with-gangrene", kFires, "/legs/right/wound/depth",
     [](Assessment& v) { set(v, Item::Gangrene, kRight, said("digits")); }, kWifi},
    {"gangrene with wound", "wound-none-with-gangrene", kSilent, "",
     [](Assessment& v) {
       set(v, Item::WoundDepth, kRight, said("deep"));
       set(v, Item::Gangrene, kRight, said("digits"));
     },
     kWifi},
    {"bone of the last toe joint at the heel", "wound-depth-not-at-site", kFires,
     "/legs/right/wound/site",
     [](Assessment& v) {
       set(v, Item::WoundDepth, kRight, said("distal-phalanx"));
       set(v, Item::WoundSite, kRight, said("heel"));
     },
     kWifi},
    {"bone of the last toe joint at the toe", "wound-depth-not-at-site", kSilent, "",
     [](Assessment& v) {
       set(v, Item::WoundDepth, kRight, said("distal-phalanx"));
       set(v, Item::WoundSite, kRight, said("toe"));
     },
     kWifi},

    {"pus without infection", "infection-absent-with-sign", kFires, "/legs/right/infection/pus",
     [](Assessment& v) { set(v, Item::InfectionPus, kRight, said("present")); }, kWifi},
    {"redness without infection", "infection-absent-with-sign", kFires,
     "/legs/right/infection/erythema",
     [](Assessment& v) { set(v, Item::InfectionErythema, kRight, number("0.5")); }, kWifi},
    {"abscess without infection", "infection-absent-with-sign", kFires,
     "/legs/right/infection/deep",
     [](Assessment& v) { set(v, Item::InfectionDeep, kRight, said("abscess")); }, kWifi},
    {"no sign and no infection", "infection-absent-with-sign", kSilent, "",
     [](Assessment& v) { denyEverySign(v, kRight); }, kWifi},
    {"pus with infection", "infection-absent-with-sign", kSilent, "",
     [](Assessment& v) {
       set(v, Item::Infection, kRight, said("present"));
       set(v, Item::InfectionPus, kRight, said("present"));
     },
     kWifi},
    {"infection, every sign denied", "infection-without-sign", kFires,
     "/legs/right/infection/present",
     [](Assessment& v) {
       denyEverySign(v, kRight);
       set(v, Item::Infection, kRight, said("present"));
     },
     kWifi},
    {"infection, one sign not looked for", "infection-without-sign", kSilent, "",
     [](Assessment& v) {
       denyEverySign(v, kRight);
       unset(v, Item::InfectionPus, kRight);
       set(v, Item::Infection, kRight, said("present"));
     },
     kWifi},
    {"infection in the bone only", "infection-without-sign", kSilent, "",
     [](Assessment& v) {
       denyEverySign(v, kRight);
       set(v, Item::InfectionDeep, kRight, said("osteomyelitis"));
       set(v, Item::Infection, kRight, said("present"));
     },
     kWifi},

    {"dialysis without kidney disease", "dialysis-without-kidney-disease", kFires,
     "/history/dialysis", [](Assessment& v) { set(v, Item::HistoryDialysis, kNone, said("yes")); },
     kEntry},
    {"dialysis with kidney disease", "dialysis-without-kidney-disease", kSilent, "",
     [](Assessment& v) {
       set(v, Item::HistoryDialysis, kNone, said("yes"));
       set(v, Item::HistoryKidneyDisease, kNone, said("stage-5"));
     },
     kEntry},
};

std::span<const Case> statementCases() { return kStatementCases; }

constexpr Case kStatedCases[]{
    {"Fontaine I with claudication", "stated-stage-below-features", kFires,
     "/legs/left/stated/fontaine",
     [](Assessment& v) {
       set(v, Item::StatedFontaine, kLeft, said("I"));
       set(v, Item::Claudication, kLeft, said("present"));
     },
     kStages},
    {"Rutherford 3 with rest pain", "stated-stage-below-features", kFires,
     "/legs/left/stated/rutherford",
     [](Assessment& v) {
       set(v, Item::StatedRutherford, kLeft, said("3"));
       set(v, Item::RestPain, kLeft, said("present"));
     },
     kStages},
    {"Fontaine III with gangrene", "stated-stage-below-features", kFires,
     "/legs/left/stated/fontaine",
     [](Assessment& v) {
       set(v, Item::StatedFontaine, kLeft, said("III"));
       set(v, Item::Gangrene, kLeft, said("digits"));
     },
     kStages},
    {"Fontaine III with rest pain", "stated-stage-below-features", kSilent, "",
     [](Assessment& v) {
       set(v, Item::StatedFontaine, kLeft, said("III"));
       set(v, Item::RestPain, kLeft, said("present"));
     },
     kStages},
    {"Fontaine I, wound on the other leg", "stated-stage-below-features", kSilent, "",
     [](Assessment& v) {
       set(v, Item::StatedFontaine, kLeft, said("I"));
       set(v, Item::WoundDepth, kRight, said("deep"));
     },
     kStages},
    {"Fontaine IV without loss", "stated-stage-above-features", kFires,
     "/legs/left/stated/fontaine",
     [](Assessment& v) { set(v, Item::StatedFontaine, kLeft, said("IV")); }, kStages},
    {"Rutherford 4 without rest pain", "stated-stage-above-features", kFires,
     "/legs/left/stated/rutherford",
     [](Assessment& v) { set(v, Item::StatedRutherford, kLeft, said("4")); }, kStages},
    {"Fontaine IIa without claudication", "stated-stage-above-features", kFires,
     "/legs/left/stated/fontaine",
     [](Assessment& v) { set(v, Item::StatedFontaine, kLeft, said("IIa")); }, kStages},
    {"Fontaine IV, gangrene not recorded", "stated-stage-above-features", kSilent, "",
     [](Assessment& v) {
       set(v, Item::StatedFontaine, kLeft, said("IV"));
       unset(v, Item::Gangrene, kLeft);
     },
     kStages},
    {"Fontaine I without complaint", "stated-stage-above-features", kSilent, "",
     [](Assessment& v) { set(v, Item::StatedFontaine, kLeft, said("I")); }, kStages},
    {"Rutherford 4 and Fontaine IV", "stated-stages-disagree", kFires,
     "/legs/left/stated/rutherford",
     [](Assessment& v) {
       set(v, Item::StatedFontaine, kLeft, said("IV"));
       set(v, Item::StatedRutherford, kLeft, said("4"));
     },
     kStages},
    {"Rutherford 3 and Fontaine IIb", "stated-stages-disagree", kSilent, "",
     [](Assessment& v) {
       set(v, Item::StatedFontaine, kLeft, said("IIb"));
       set(v, Item::StatedRutherford, kLeft, said("3"));
     },
     kStages},

    {"Fontaine IIa at 199 m", "stated-fontaine-distance", kFires, "/legs/left/stated/fontaine",
     [](Assessment& v) {
       set(v, Item::StatedFontaine, kLeft, said("IIa"));
       set(v, Item::ClaudicationDistance, kLeft, number("199"));
     },
     kStages},
    {"Fontaine IIb at 201 m", "stated-fontaine-distance", kFires, "/legs/left/stated/fontaine",
     [](Assessment& v) {
       set(v, Item::StatedFontaine, kLeft, said("IIb"));
       set(v, Item::ClaudicationDistance, kLeft, number("201"));
     },
     kStages},
    {"Fontaine IIb at 200 m", "stated-fontaine-distance", kSilent, "",
     [](Assessment& v) {
       set(v, Item::StatedFontaine, kLeft, said("IIb"));
       set(v, Item::ClaudicationDistance, kLeft, number("200"));
     },
     kStages},
    {"Fontaine IIa at 200 m", "stated-fontaine-distance", kSilent, "",
     [](Assessment& v) {
       set(v, Item::StatedFontaine, kLeft, said("IIa"));
       set(v, Item::ClaudicationDistance, kLeft, number("200"));
     },
     kStages},
    {"Fontaine III at 20 m", "stated-fontaine-distance", kSilent, "",
     [](Assessment& v) {
       set(v, Item::StatedFontaine, kLeft, said("III"));
       set(v, Item::ClaudicationDistance, kLeft, number("20"));
     },
     kStages},

    {"wound grade 0 with a wound", "stated-wound-differs", kFires, "/legs/left/stated/wound",
     [](Assessment& v) {
       set(v, Item::StatedWound, kLeft, said("0"));
       set(v, Item::WoundDepth, kLeft, said("superficial"));
     },
     kWifi},
    {"wound grade 2 without wound or gangrene", "stated-wound-differs", kFires,
     "/legs/left/stated/wound", [](Assessment& v) { set(v, Item::StatedWound, kLeft, said("2")); },
     kWifi},
    {"wound grade 2 with gangrene only", "stated-wound-differs", kSilent, "",
     [](Assessment& v) {
       set(v, Item::StatedWound, kLeft, said("2"));
       set(v, Item::Gangrene, kLeft, said("digits"));
     },
     kWifi},
    {"wound grade 0 without wound", "stated-wound-differs", kSilent, "",
     [](Assessment& v) { set(v, Item::StatedWound, kLeft, said("0")); }, kWifi},
    {"infection grade 0 with infection", "stated-infection-differs", kFires,
     "/legs/left/stated/infection",
     [](Assessment& v) {
       set(v, Item::StatedInfection, kLeft, said("0"));
       set(v, Item::Infection, kLeft, said("present"));
     },
     kWifi},
    {"infection grade 1 without infection", "stated-infection-differs", kFires,
     "/legs/left/stated/infection",
     [](Assessment& v) { set(v, Item::StatedInfection, kLeft, said("1")); }, kWifi},
    {"infection grade 1, infection not recorded", "stated-infection-differs", kSilent, "",
     [](Assessment& v) {
       set(v, Item::StatedInfection, kLeft, said("1"));
       unset(v, Item::Infection, kLeft);
     },
     kWifi},
    {"a foot without wound that cannot be saved", "stated-unsalvageable-without-loss", kFires,
     "/legs/left/stated/unsalvageable",
     [](Assessment& v) { set(v, Item::StatedUnsalvageable, kLeft, said("yes")); }, kWifi},
    {"a foot with gangrene that cannot be saved", "stated-unsalvageable-without-loss", kSilent, "",
     [](Assessment& v) {
       set(v, Item::StatedUnsalvageable, kLeft, said("yes"));
       set(v, Item::Gangrene, kLeft, said("extensive"));
     },
     kWifi},
};

std::span<const Case> statedCases() { return kStatedCases; }

constexpr Case kMethodCases[]{
    {"no posture", "posture-missing", kFires, "/conditions/posture",
     [](Assessment& v) { unset(v, Item::Posture, kNone); }, kMethod},
    {"posture absent", "posture-missing", kFires, "/conditions/posture",
     [](Assessment& v) { set(v, Item::Posture, kNone, absent()); }, kMethod},
    {"posture given", "posture-missing", kSilent, "", [](Assessment&) {}, kMethod},
    {"posture not needed without pressures", "posture-missing", kSilent, "",
     [](Assessment& v) {
       std::erase_if(v.readings, [](const Reading& reading) {
         return std::holds_alternative<Pressure>(reading.content);
       });
       unset(v, Item::Posture, kNone);
     },
     kMethod},
    {"no rest minutes", "rest-minutes-missing", kFires, "/conditions/restMinutes",
     [](Assessment& v) { unset(v, Item::RestMinutes, kNone); }, kMethod},
    {"rest minutes given", "rest-minutes-missing", kSilent, "", [](Assessment&) {}, kMethod},
    {"rest 4.5 minutes", "rest-minutes-short", kFires, "/conditions/restMinutes",
     [](Assessment& v) { set(v, Item::RestMinutes, kNone, number("4.5")); }, kMethod},
    {"rest 5 minutes", "rest-minutes-short", kSilent, "",
     [](Assessment& v) { set(v, Item::RestMinutes, kNone, number("5")); }, kMethod},
    {"no method", "pressure-method-missing", kFires, "/conditions/method",
     [](Assessment& v) { unset(v, Item::PressureMethod, kNone); }, kMethod},
    {"method given", "pressure-method-missing", kSilent, "", [](Assessment&) {}, kMethod},
    {"toe not named", "toe-digit-missing", kFires, "/legs/right/toe/digit",
     [](Assessment& v) { unset(v, Item::ToeDigit, kRight); }, kToe},
    {"toe named", "toe-digit-missing", kSilent, "", [](Assessment&) {}, kToe},
    {"sensor not named", "toe-sensor-missing", kFires, "/legs/right/toe/sensor",
     [](Assessment& v) { unset(v, Item::ToeSensor, kRight); }, kToe},
    {"sensor named", "toe-sensor-missing", kSilent, "", [](Assessment&) {}, kToe},
    {"toe named without pressure", "toe-detail-without-pressure", kFires, "/legs/right/toe/digit",
     [](Assessment& v) { unset(v, Item::ToePressure, kRight); }, kEntry},
    {"no toe at all", "toe-detail-without-pressure", kSilent, "",
     [](Assessment& v) {
       unset(v, Item::ToePressure, kRight);
       unset(v, Item::ToeDigit, kRight);
       unset(v, Item::ToeSensor, kRight);
     },
     kEntry},
    {"capillary refill", "capillary-refill-not-graded", kFires, "/legs/right/capillaryRefill",
     [](Assessment& v) { set(v, Item::CapillaryRefill, kRight, number("2")); },
     "docs/clinical.md, validation limits"},
    {"no capillary refill", "capillary-refill-not-graded", kSilent, "", [](Assessment&) {},
     "docs/clinical.md, validation limits"},
};

std::span<const Case> methodCases() { return kMethodCases; }

}  // namespace footbridge::test
