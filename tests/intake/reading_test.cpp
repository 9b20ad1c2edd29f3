// What is kept of a reading in each of its forms (docs/input.md, "Readings").

#include "intake/reading.hpp"

#include <gtest/gtest.h>

#include "intake_cases.hpp"
#include "model/rounding.hpp"

namespace footbridge::test {
namespace {

constexpr std::string_view kAnkle = "/legs/right/ankle/dorsalisPedis";
constexpr std::string_view kArm = "/arms/right/systolic";
constexpr std::string_view kPulse = "/legs/right/pulses/dorsalisPedis";
constexpr std::string_view kPosture = "/conditions/posture";
constexpr std::string_view kTemperature = "/systemic/temperature";

/// The reading that stands at one of the pointers above.
Reading readingAt(std::string_view pointer, std::string_view json) {
  const intake::Intake intake = readEdited({{pointer, std::string(json)}});
  EXPECT_FALSE(blocking(intake.issues)) << json << "\n" << listed(intake.issues);
  for (const Reading& reading : intake.assessment.readings) {
    if (tables().place(reading.item, reading.side) == pointer) return reading;
  }
  ADD_FAILURE() << "no reading of " << json;
  return {};
}

Pressure halves(std::int32_t count) { return {count}; }

struct FormCase {
  std::string_view name;
  std::string_view pointer;
  std::string_view json;
  Content content;
  Comparator comparator = Comparator::None;
  std::string_view note{};
  std::string_view original{};
};

std::ostream& operator<<(std::ostream& out, const FormCase& value) { return out << value.name; }

std::vector<FormCase> formCases() {
  using enum Comparator;
  return {
      {"a bare pressure", kAnkle, "128", halves(256)},
      {"a bare half", kAnkle, "128.5", halves(257)},
      {"a pressure of an object", kAnkle, R"({"value": 128})", halves(256)},
      {"a pressure with its unit", kAnkle, R"({"value": 128, "unit": "mm[Hg]"})", halves(256)},
      {"a pressure with a note", kAnkle, R"({"value": 128, "note": " oedema "})", halves(256), None,
       "oedema"},
      {"below", kAnkle, R"({"value": 40, "comparator": "<"})", halves(80), Less},
      {"at most", kAnkle, R"({"value": 40, "comparator": "<="})", halves(80), LessOrEqual},
      {"at least", kAnkle, R"({"value": 250, "comparator": ">="})", halves(500), GreaterOrEqual},
      {"above", kAnkle, R"({"value": 250, "comparator": ">"})", halves(500), Greater},
      {"below, in kilopascals", kAnkle, R"({"value": 5.3, "unit": "kPa", "comparator": "<"})",
       halves(79), Less, "", "5.3 kPa"},
      {"kilopascals keep their digits", kAnkle, R"({"value": 16.00, "unit": "kPa"})", halves(240),
       None, "", "16.00 kPa"},
      {"a pressure below zero is for validation", kAnkle, "-5", halves(-10)},
      {"incompressible", kAnkle, R"({"finding": "incompressible"})", Incompressible{}},
      {"incompressible at a limit", kAnkle, R"({"finding": "incompressible", "limit": 300})",
       Incompressible{halves(600)}},
      {"a limit is kept as sent", kAnkle, R"({"finding": "incompressible", "limit": 1000000})",
       Incompressible{halves(2'000'000)}},
      {"no signal", kAnkle, R"({"finding": "no-signal", "note": "8 MHz"})", NoSignal{}, None,
       "8 MHz"},
      {"a number keeps its digits", kTemperature, "37.0", Decimal{370, 1}},
      {"a number of an object", kTemperature, R"({"value": 36.85, "unit": "Cel"})",
       Decimal{3685, 2}},
      {"a number that is a bound", kTemperature, R"({"value": 38, "comparator": ">"})",
       Decimal{38, 0}, Greater},
      {"a bare word", kPosture, R"("sitting")", Word{"sitting"}},
      {"a word of an object", kPosture, R"({"value": "other", "note": "in a chair"})",
       Word{"other"}, None, "in a chair"},
      {"the mean of two repeats", kAnkle, R"({"repeats": [112, 117]})", halves(229), None, "",
       "repeats 112, 117 mmHg"},
      {"the mean of three to the nearest half", kAnkle, R"({"repeats": [112, 113, 115]})",
       halves(227), None, "", "repeats 112, 113, 115 mmHg"},
      {"the mean between two halves goes down", kAnkle, R"({"repeats": [112, 112.5]})", halves(224),
       None, "", "repeats 112, 112.5 mmHg"},
      {"a mean of 59.75 does not reach 60", kAnkle, R"({"repeats": [59, 60, 60, 60]})", halves(119),
       None, "", "repeats 59, 60, 60, 60 mmHg"},
      {"a mean of 29.8 does not reach 30", kAnkle, R"({"repeats": [29, 30, 30, 30, 30]})",
       halves(59), None, "", "repeats 29, 30, 30, 30, 30 mmHg"},
      {"a mean of an arm goes to the nearest half", kArm, R"({"repeats": [132, 133, 133, 133]})",
       halves(266), None, "", "repeats 132, 133, 133, 133 mmHg"},
      {"repeats with a note", kAnkle, R"({"repeats": [112, 116], "note": "restless"})", halves(228),
       None, "restless", "repeats 112, 116 mmHg"},
      {"repeats in kilopascals", kAnkle, R"({"repeats": [14.9, 15.1], "unit": "kPa"})", halves(225),
       None, "", "repeats 14.9, 15.1 kPa"},
      {"two repeats of an arm 10 apart", kArm, R"({"repeats": [156, 146]})", halves(302), None, "",
       "repeats 156, 146 mmHg"},
      {"two repeats of an arm 11 apart", kArm, R"({"repeats": [157, 146]})", halves(292), None, "",
       "repeats 157, 146 mmHg; the first was left out"},
      {"three repeats of an arm are a mean", kArm, R"({"repeats": [158, 146, 146]})", halves(300),
       None, "", "repeats 158, 146, 146 mmHg"},
      {"two repeats of an ankle 12 apart are a mean", kAnkle, R"({"repeats": [158, 146]})",
       halves(304), None, "", "repeats 158, 146 mmHg"},
      {"an earlier index keeps its digits", "/previous/legs/right/abi", "0.80", Decimal{80, 2}},
      {"a pulse in a word", kPulse, R"("increased")", Word{"increased"}},
      {"a pulse on a scale", kPulse, R"({"grade": 2, "scale": "0-3"})",
       GradedPulse{"0-3", 2, "normal"}},
      {"the same grade on another scale", kPulse, R"({"grade": 2, "scale": "0-4-b"})",
       GradedPulse{"0-4-b", 2, "reduced"}},
      {"a grade the scale does not name", kPulse, R"({"grade": 1, "scale": "0-4-b", "note": "x"})",
       GradedPulse{"0-4-b", 1, ""}, None, "x"},
      {"a grade outside the scale is for validation", kPulse, R"({"grade": 9, "scale": "0-3"})",
       GradedPulse{"0-3", 9, ""}},
  };
}

class Form : public testing::TestWithParam<FormCase> {};
TEST_P(Form, IsKept) {
  const FormCase& line = GetParam();
  const Reading reading = readingAt(line.pointer, line.json);
  EXPECT_EQ(reading.content, line.content);
  EXPECT_EQ(reading.comparator, line.comparator);
  EXPECT_EQ(reading.note, line.note);
  EXPECT_EQ(reading.original, line.original);
}
INSTANTIATE_TEST_SUITE_P(Table, Form, testing::ValuesIn(formCases()),
                         [](const auto& line) { return testName(line.param.name, line.index); });

TEST(Reading, TakesEveryReasonOfAbsenceForEveryKindOfItem) {
  constexpr std::array<std::string_view, 15> kReasons{
      "unknown",           "asked-unknown", "temp-unknown",   "not-asked",
      "asked-declined",    "masked",        "not-applicable", "unsupported",
      "as-text",           "error",         "not-a-number",   "negative-infinity",
      "positive-infinity", "not-performed", "not-permitted"};  // R4 data-absent-reason
  for (const std::string_view pointer : {kAnkle, kPulse, kPosture, kTemperature}) {
    for (std::size_t i = 0; i < kReasons.size(); ++i) {
      const Reading reading =
          readingAt(pointer, R"({"absent": ")" + std::string(kReasons[i]) + R"(", "note": "why"})");
      EXPECT_EQ(reading.content, Content{Absence{static_cast<AbsentReason>(i)}}) << kReasons[i];
      EXPECT_EQ(reading.note, "why");
    }
  }
}

TEST(Reading, TakesEveryWordOfEveryList) {
  std::size_t words = 0;
  for (const ItemRow& row : tables().items) {
    if (row.words.empty()) continue;
    const std::string place = tables().place(row.item, row.sided ? Side::Right : Side::None);
    for (const WordRow& word : tables().wordList(row.words)->words) {
      ++words;
      EXPECT_EQ(readingAt(place, '"' + word.word + '"').content, Content{Word{word.word}}) << place;
    }
  }
  EXPECT_GT(words, 150U);
}

TEST(Reading, TakesEveryGradeOfEveryScale) {
  for (const PulseScale& scale : tables().pulseScales) {
    for (std::int32_t grade = scale.lowest; grade <= scale.highest; ++grade) {
      const auto meaning = scale.meaning.find(grade);
      const std::string word = meaning == scale.meaning.end() ? std::string{} : meaning->second;
      const Reading reading = readingAt(
          kPulse, R"({"grade": )" + std::to_string(grade) + R"(, "scale": ")" + scale.id + R"("})");
      EXPECT_EQ(reading.content, (Content{GradedPulse{scale.id, grade, word}})) << scale.id;
    }
  }
}

TEST(Reading, TakesEveryItemOnItsOwnPlace) {
  for (const ItemRow& row : tables().items) {
    for (const Side side : {Side::Right, Side::Left, Side::None}) {
      if (row.sided != (side != Side::None)) continue;
      const Reading reading = readingAt(tables().place(row.item, side), R"({"absent": "masked"})");
      EXPECT_EQ(reading.item, row.item);
      EXPECT_EQ(reading.side, side);
    }
  }
}

TEST(Previous, DateIsKeptApartFromThatOfTheVisit) {
  const Assessment visit = readBytes(goodDocument()).assessment;
  EXPECT_EQ(visit.previousOn, parseDate("2025-10-06"));
  EXPECT_FALSE(readEdited({{"/previous", ""}}).assessment.previousOn.has_value());
}

TEST(Reading, OfAnItemIsFoundByItemAndSide) {
  const Assessment visit = readBytes(goodDocument()).assessment;
  EXPECT_EQ(plainPressure(visit.find(Item::ArmSystolic, Side::Left)), Pressure::mmhg(128));
  EXPECT_EQ(plainPressure(visit.find(Item::AnklePosteriorTibial, Side::Right)),
            Pressure::mmhg(134));
  EXPECT_EQ(visit.find(Item::AnklePeroneal, Side::Left), nullptr);
  EXPECT_EQ(chosenWord(visit.find(Item::PulsePosteriorTibial, Side::Right)), "normal");
}

// kPa / 0.133322 (UCUM, unit m[Hg] = 133.322 kPa), worked out by hand.
TEST(Kilopascals, AreConvertedByTheFactorOfUcumAndKeptInHalfMillimetres) {
  struct Row {
    std::string_view kilopascals;
    std::string_view kept;
    std::string_view keptAtArm;
    std::string_view exact;
  };
  constexpr std::array kRows{Row{"0", "0", "0", "0"},
                             Row{"0.06", "0.5", "0.5", "0.45"},
                             Row{"0.13", "0.5", "1", "0.98"},
                             Row{"1", "7.5", "7.5", "7.5006"},
                             Row{"3.95", "29.5", "29.5", "29.63"},
                             Row{"4", "30", "30", "30.0026"},
                             Row{"4.2", "31.5", "31.5", "31.5027"},
                             Row{"5.3", "39.5", "40", "39.75"},
                             Row{"5.33", "39.5", "40", "39.98"},
                             Row{"6.4", "48", "48", "48.00"},
                             Row{"6.6", "49.5", "49.5", "49.50"},
                             Row{"9.3", "69.5", "70", "69.76"},
                             Row{"10.7", "80.5", "80.5", "80.26"},
                             Row{"13.3", "99.5", "100", "99.76"},
                             Row{"13.39", "100.5", "100.5", "100.43"},
                             Row{"13.4", "100.5", "100.5", "100.51"},
                             Row{"16.00", "120", "120", "120.01"},
                             Row{"17.9", "134.5", "134.5", "134.26"},
                             Row{"19.24", "144.5", "144.5", "144.31"},
                             Row{"40", "300", "300", "300.03"},
                             Row{"100", "750", "750", "750.06"}};
  for (const Row& row : kRows) {
    const Decimal value = *Decimal::parse(row.kilopascals);
    EXPECT_EQ(fromKilopascals(value, Item::ToePressure).text(), row.kept) << row.exact;
    EXPECT_EQ(fromKilopascals(value, Item::ArmSystolic).text(), row.keptAtArm) << row.exact;
  }
}

TEST(Kilopascals, AreKeptTowardsWorseAtATie) {
  const Decimal quarter = *Decimal::parse("0.0333305");  // 0.25 mmHg
  const Decimal three = *Decimal::parse("0.0999915");    // 0.75 mmHg
  EXPECT_EQ(fromKilopascals(quarter, Item::CarbonDioxide).text(), "0");
  EXPECT_EQ(fromKilopascals(three, Item::CarbonDioxide).text(), "0.5");
  EXPECT_EQ(fromKilopascals(quarter, Item::ArmSystolicAfterExercise).text(), "0.5");
  EXPECT_EQ(fromKilopascals(three, Item::ArmSystolicAfterExercise).text(), "1");
}

/// The property that thresholds rest on: in whole millimetres what is kept is what was read.
TEST(Kilopascals, NeverReachAWholeMillimetreThatWasNotRead) {
  for (std::int64_t hundredths = 0; hundredths <= 4'000; ++hundredths) {
    const Pressure kept = fromKilopascals({hundredths, 2}, Item::ToePressure);
    EXPECT_EQ(kept.floor(), hundredths * 10'000 / 133'322) << hundredths;
  }
}

TEST(Repeats, GoAlongWithTheirMean) {
  const Reading reading = readingAt(kAnkle, R"({"repeats": [255, 240]})");
  ASSERT_EQ(reading.repeats.size(), 2U);
  EXPECT_EQ(plainPressure(&reading.repeats[0]), Pressure::mmhg(255));
  EXPECT_EQ(plainPressure(&reading.repeats[1]), Pressure::mmhg(240));
  EXPECT_EQ(reading.repeats[0].item, Item::AnkleDorsalisPedis);
  EXPECT_EQ(reading.repeats[0].side, Side::Right);
  EXPECT_EQ(reading.repeats[0].original, "");
  const Reading converted = readingAt(kAnkle, R"({"repeats": [14.9, 15.1], "unit": "kPa"})");
  ASSERT_EQ(converted.repeats.size(), 2U);
  EXPECT_EQ(converted.repeats[0].original, "14.9 kPa");
}

TEST(Kilopascals, AreToldInTheRemark) {
  const Issues issues = readEdited({{kAnkle, R"({"value": 17.6, "unit": "kPa"})"}}).issues;
  ASSERT_EQ(issues.size(), 1U);
  EXPECT_EQ(issues[0].severity, Severity::Information);
  EXPECT_EQ(issues[0].text,
            "Dorsalis pedis ankle pressure was sent as 17.6 kPa and is kept as 132 mmHg.");
}

}  // namespace
}  // namespace footbridge::test
