#include "validate_cases.hpp"

#include <algorithm>
#include <cstdio>
#include <cstdlib>

namespace footbridge::test {
namespace {

struct Pair {
  Item item{};
  std::int32_t right = 0;
  std::int32_t left = 0;
};

void setPressures(Assessment& visit) {
  constexpr std::array kPressures{
      Pair{Item::ArmSystolic, 132, 128}, Pair{Item::ArmDiastolic, 78, 76},
      Pair{Item::AnkleDorsalisPedis, 128, 126}, Pair{Item::AnklePosteriorTibial, 134, 131},
      Pair{Item::ToePressure, 96, 93}};
  for (const Pair& pair : kPressures) {
    set(visit, pair.item, kRight, mmhg(pair.right));
    set(visit, pair.item, kLeft, mmhg(pair.left));
  }
}

void setLeg(Assessment& visit, Side side) {
  for (const Item item : {Item::PulseFemoral, Item::PulsePopliteal, Item::PulseDorsalisPedis,
                          Item::PulsePosteriorTibial}) {
    set(visit, item, side, said("normal"));
  }
  set(visit, Item::DopplerDorsalisPedis, side, said("triphasic"));
  set(visit, Item::DopplerPosteriorTibial, side, said("triphasic"));
  set(visit, Item::ToeDigit, side, said("great"));
  set(visit, Item::ToeSensor, side, said("photoplethysmography"));
  set(visit, Item::RestPain, side, said("absent"));
  set(visit, Item::Claudication, side, said("absent"));
  set(visit, Item::WoundDepth, side, said("none"));
  set(visit, Item::Gangrene, side, said("none"));
  set(visit, Item::Infection, side, said("absent"));
}

void setConditions(Assessment& visit) {
  set(visit, Item::HistoryDiabetes, kNone, said("none"));
  set(visit, Item::HistoryKidneyDisease, kNone, said("none"));
  set(visit, Item::HistoryDialysis, kNone, said("no"));
  set(visit, Item::Posture, kNone, said("supine"));
  set(visit, Item::RestMinutes, kNone, number("10"));
  set(visit, Item::PressureMethod, kNone, said("manual-doppler"));
}

void setHeader(Assessment& visit) {
  visit.identifier = {"https://clinic.example/assessments", "MF-0001"};
  visit.measuredAt = *parseInstant("2026-10-05T10:20:00+01:00");
  visit.issuedAt = *parseInstant("2026-10-05T11:05:00+01:00");
  visit.patient.identifiers = {{"https://fhir.nhs.uk/Id/nhs-number", "9434765919"}};
  visit.patient.family = "Invented";
  visit.patient.given = {"Ada"};
  visit.patient.birthDate = parseDate("1951-04-12");
  visit.performer = {Identifier{"https://clinic.example/staff", "77"}, "B. Nurse"};
  visit.organization = {Identifier{"https://clinic.example/sites", "1"}, "Foot clinic"};
  visit.instruments = {{"doppler", "Invented", "D1", "0001", parseDate("2026-09-01")}};
}

}  // namespace

const Tables& tables() {
  static const Result<Tables> kTables = embeddedTables();
  if (!kTables) {
    for (const Issue& issue : kTables.issues()) std::fprintf(stderr, "%s\n", issue.text.c_str());
    std::abort();
  }
  return *kTables;
}

Assessment cleanVisit() {
  Assessment visit;
  setHeader(visit);
  setPressures(visit);
  for (const Side side : kSides) setLeg(visit, side);
  setConditions(visit);
  return visit;
}

Instant testNow() { return *parseInstant("2026-11-25T12:00:00+00:00"); }

Content mmhg(std::int32_t whole) { return Pressure::mmhg(whole); }
Content halves(std::int32_t halves) { return Pressure{halves}; }
Content number(std::string_view text) { return *Decimal::parse(text); }
Content said(std::string_view word) { return Word{word}; }
Content absent(AbsentReason reason) { return Absence{reason}; }

Content hard(std::optional<std::int32_t> limit) {
  return Incompressible{limit ? std::optional{Pressure::mmhg(*limit)} : std::nullopt};
}

Content graded(std::string_view scale, std::int32_t grade, std::string_view word) {
  return GradedPulse{scale, grade, word};
}

void unset(Assessment& visit, Item item, Side side) {
  std::erase_if(visit.readings, [=](const Reading& reading) {
    return reading.item == item && reading.side == side;
  });
}

void unsetLeg(Assessment& visit, Side side) {
  std::erase_if(visit.readings, [=](const Reading& reading) {
    return reading.side == side && reading.item > Item::ArmSystolicAfterExercise;
  });
}

void set(Assessment& visit, Item item, Side side, Content content, Comparator comparator) {
  unset(visit, item, side);
  Reading reading;
  reading.item = item;
  reading.side = side;
  reading.content = std::move(content);
  reading.comparator = comparator;
  visit.readings.push_back(std::move(reading));
  sortReadings(visit);
}

void setConverted(Assessment& visit, Item item, Side side, Content content, std::string original) {
  set(visit, item, side, std::move(content));
  const auto found = std::find_if(
      visit.readings.begin(), visit.readings.end(),
      [=](const Reading& reading) { return reading.item == item && reading.side == side; });
  found->original = std::move(original);
}

void setRepeats(Assessment& visit, Item item, Side side, Content mean,
                const std::vector<Content>& repeats, std::string_view unit) {
  setConverted(visit, item, side, std::move(mean), "repeats");
  const auto found = std::find_if(
      visit.readings.begin(), visit.readings.end(),
      [=](const Reading& reading) { return reading.item == item && reading.side == side; });
  for (const Content& repeat : repeats) {
    Reading one;
    one.item = item;
    one.side = side;
    one.content = repeat;
    one.original = unit;
    found->repeats.push_back(std::move(one));
  }
}

std::ostream& operator<<(std::ostream& out, const Case& value) { return out << value.name; }
std::ostream& operator<<(std::ostream& out, const IndexCase& value) { return out << value.name; }

Issues ofRule(const Issues& issues, std::string_view rule) {
  Issues found;
  std::copy_if(issues.begin(), issues.end(), std::back_inserter(found),
               [rule](const Issue& issue) { return issue.rule == rule; });
  return found;
}

}  // namespace footbridge::test
