// Who the patient is, and when.

#include <gtest/gtest.h>

#include <chrono>

#include "validate_cases.hpp"

namespace footbridge::test {
namespace {

constexpr std::string_view kNhs = "NHS Data Dictionary, NHS number; published test numbers";
constexpr std::string_view kNpi = "R package npi 0.2.0, npi_is_valid";
constexpr std::string_view kUpdate = "FHIR R4, http.html#cond-update";
constexpr std::string_view kMatching = "FHIR R4 Identifier and token search";
constexpr std::string_view kEntry = "docs/clinical.md, entry errors";
constexpr std::string_view kOurs = "our choice, mapping/rules.json";
constexpr std::string_view kNpiSystem = "http://hl7.org/fhir/sid/us-npi";

void setNhsNumber(Assessment& visit, std::string_view value) {
  visit.patient.identifiers.front().value = value;
}

void setNpi(Assessment& visit, std::string_view value) {
  visit.performer.identifier = Identifier{std::string{kNpiSystem}, std::string{value}};
}

void addIdentifier(Assessment& visit, std::string system, std::string value) {
  visit.patient.identifiers.push_back({std::move(system), std::move(value)});
}

constexpr std::string_view kNumberPlace = "/patient/identifiers/0/value";

}  // namespace

void withdraw(Assessment& v, std::int32_t revision) {
  v.status = Status::EnteredInError;
  v.revision = revision;
  v.note = "Entered for the wrong visit.";
}

constexpr Case kIdentityCases[]{
    {"nine digits", "nhs-number-form", kFires, kNumberPlace,
     [](Assessment& v) { setNhsNumber(v, "943476591"); }, kNhs},
    {"eleven digits", "nhs-number-form", kFires, kNumberPlace,
     [](Assessment& v) { setNhsNumber(v, "94347659190"); }, kNhs},
    {"a letter", "nhs-number-form", kFires, kNumberPlace,
     [](Assessment& v) { setNhsNumber(v, "943476591O"); }, kNhs},
    {"ten digits", "nhs-number-form", kSilent, "", [](Assessment&) {}, kNhs},
    {"three groups", "nhs-number-spaced", kFires, kNumberPlace,
     [](Assessment& v) { setNhsNumber(v, "943 476 5919"); }, kNhs},
    {"hyphens", "nhs-number-spaced", kFires, kNumberPlace,
     [](Assessment& v) { setNhsNumber(v, "943-476-5919"); }, kNhs},
    {"no groups", "nhs-number-spaced", kSilent, "", [](Assessment&) {}, kNhs},
    {"last digit wrong", "nhs-number-check-digit", kFires, kNumberPlace,
     [](Assessment& v) { setNhsNumber(v, "9434765918"); }, kNhs},
    {"last digit wrong, in groups", "nhs-number-check-digit", kFires, kNumberPlace,
     [](Assessment& v) { setNhsNumber(v, "943 476 5918"); }, kNhs},
    {"right number of another system", "nhs-number-check-digit", kSilent, "",
     [](Assessment& v) {
       v.patient.identifiers = {{"https://clinic.example/mrn", "12"}};
     },
     kNhs},
    {"check digit right", "nhs-number-check-digit", kSilent, "", [](Assessment&) {}, kNhs},
    {"zeros", "nhs-number-zero", kFires, kNumberPlace,
     [](Assessment& v) { setNhsNumber(v, "0000000000"); }, kNhs},
    {"not all zeros", "nhs-number-zero", kSilent, "",
     [](Assessment& v) { setNhsNumber(v, "0000000001"); }, kNhs},
    {"digits in sequence", "nhs-number-patterned", kFires, kNumberPlace,
     [](Assessment& v) { setNhsNumber(v, "9876543210"); }, kNhs},
    {"one digit repeated", "nhs-number-patterned", kFires, kNumberPlace,
     [](Assessment& v) { setNhsNumber(v, "9999999999"); }, kNhs},
    {"no pattern", "nhs-number-patterned", kSilent, "", [](Assessment&) {}, kNhs},
    {"test number", "nhs-number-test-range", kFires, kNumberPlace,
     [](Assessment& v) { setNhsNumber(v, "9990000018"); }, kNhs},
    {"just below the test range", "nhs-number-test-range", kSilent, "",
     [](Assessment& v) { setNhsNumber(v, "9912003888"); }, kNhs},

    {"provider with nine digits", "npi-form", kFires, "/performer/identifier/value",
     [](Assessment& v) { setNpi(v, "123456789"); }, kNpi},
    {"provider with a space", "npi-form", kFires, "/performer/identifier/value",
     [](Assessment& v) { setNpi(v, "12345 67893"); }, kNpi},
    {"provider with ten digits", "npi-form", kSilent, "",
     [](Assessment& v) { setNpi(v, "1234567893"); }, kNpi},
    {"provider, last digit wrong", "npi-check-digit", kFires, "/performer/identifier/value",
     [](Assessment& v) { setNpi(v, "1234567898"); }, kNpi},
    {"organisation, last digit wrong", "npi-check-digit", kFires, "/organization/identifier/value",
     [](Assessment& v) {
       v.organization.identifier = Identifier{std::string{kNpiSystem}, "1234567890"};
     },
     kNpi},
    {"provider, last digit right", "npi-check-digit", kSilent, "",
     [](Assessment& v) { setNpi(v, "1234567893"); }, kNpi},

    {"space at the end", "identifier-edge-space", kFires, "/patient/identifiers/1/value",
     [](Assessment& v) { addIdentifier(v, "https://clinic.example/mrn", "A 77 "); }, kMatching},
    {"space within", "identifier-edge-space", kSilent, "",
     [](Assessment& v) { addIdentifier(v, "https://clinic.example/mrn", "A 77"); }, kMatching},
    {"two numbers of one kind", "identifier-system-twice", kFires, "/patient/identifiers/1",
     [](Assessment& v) { addIdentifier(v, "https://fhir.nhs.uk/Id/nhs-number", "6541003238"); },
     kMatching},
    {"two kinds of number", "identifier-system-twice", kSilent, "",
     [](Assessment& v) { addIdentifier(v, "https://clinic.example/mrn", "A77"); }, kMatching},
    {"one number twice", "identifier-repeated", kFires, "/patient/identifiers/1",
     [](Assessment& v) { addIdentifier(v, "https://fhir.nhs.uk/Id/nhs-number", "9434765919"); },
     kMatching},
    {"one number once", "identifier-repeated", kSilent, "", [](Assessment&) {}, kMatching},
    {"no family name", "patient-family-missing", kFires, "/patient",
     [](Assessment& v) { v.patient.family = " "; }, kMatching},
    {"family name", "patient-family-missing", kSilent, "", [](Assessment&) {}, kMatching},
    {"no date of birth", "patient-birth-date-missing", kFires, "/patient",
     [](Assessment& v) { v.patient.birthDate.reset(); }, kMatching},
    {"date of birth", "patient-birth-date-missing", kSilent, "", [](Assessment&) {}, kMatching},
    {"preliminary", "status-preliminary", kFires, "/status",
     [](Assessment& v) { v.status = Status::Preliminary; }, "FHIR R4 observation-status"},
    {"final", "status-preliminary", kSilent, "", [](Assessment&) {}, "FHIR R4 observation-status"},
    {"a second revision", "revision-replaces", kFires, "/revision",
     [](Assessment& v) { v.revision = 2; }, kUpdate},
    {"a first revision", "revision-replaces", kSilent, "", [](Assessment&) {}, kUpdate},
    {"a corrected first revision", "status-corrected-first", kFires, "/status",
     [](Assessment& v) { v.status = Status::Corrected; }, "FHIR R4 observation-status"},
    {"a corrected second revision", "status-corrected-first", kSilent, "",
     [](Assessment& v) {
       v.status = Status::Corrected;
       v.revision = 2;
     },
     "FHIR R4 observation-status"},
    {"withdrawn", "status-withdrawn", kFires, "/status", [](Assessment& v) { withdraw(v, 2); },
     "FHIR R4 observation-status"},
    {"corrected, not withdrawn", "status-withdrawn", kSilent, "",
     [](Assessment& v) {
       v.status = Status::Corrected;
       v.revision = 2;
     },
     "FHIR R4 observation-status"},
    {"withdrawn at once", "withdrawal-first", kFires, "/status",
     [](Assessment& v) { withdraw(v, 1); }, "FHIR R4 observation-status"},
    {"withdrawn later", "withdrawal-first", kSilent, "", [](Assessment& v) { withdraw(v, 2); },
     "FHIR R4 observation-status"},
    {"withdrawn without a reason", "withdrawal-reason-missing", kFires, "/note",
     [](Assessment& v) {
       withdraw(v, 2);
       v.note = " ";
     },
     "FHIR R4 Provenance.reason"},
    {"withdrawn with a reason", "withdrawal-reason-missing", kSilent, "",
     [](Assessment& v) { withdraw(v, 2); }, "FHIR R4 Provenance.reason"},
    {"replaces itself", "replaces-itself", kFires, "/replaces",
     [](Assessment& v) { v.replaces = v.identifier; }, kUpdate},
    {"replaces another", "replaces-itself", kSilent, "",
     [](Assessment& v) {
       v.replaces = Identifier{v.identifier.system, "another"};
     },
     kUpdate},
};

std::span<const Case> identityCases() { return kIdentityCases; }

constexpr Case kDateCases[]{
    {"five minutes ahead", "measured-in-future", kSilent, "",
     [](Assessment& v) { v.measuredAt = *parseInstant("2026-11-25T12:05:00+00:00"); }, kEntry},
    {"a second more", "measured-in-future", kFires, "/measuredAt",
     [](Assessment& v) { v.measuredAt = *parseInstant("2026-11-25T12:05:01+00:00"); }, kEntry},
    {"past under another offset", "measured-in-future", kSilent, "",
     [](Assessment& v) { v.measuredAt = *parseInstant("2026-11-25T21:00:00+09:30"); }, kEntry},
    {"365 days ago", "measured-long-ago", kSilent, "",
     [](Assessment& v) {
       v.measuredAt = *parseInstant("2025-11-25T12:00:00+00:00");
       v.instruments.clear();
     },
     kOurs},
    {"365 days and a second ago", "measured-long-ago", kFires, "/measuredAt",
     [](Assessment& v) {
       v.measuredAt = *parseInstant("2025-11-25T11:59:59+00:00");
       v.instruments.clear();
     },
     kOurs},
    {"signed off five minutes ahead", "issued-in-future", kSilent, "",
     [](Assessment& v) { v.issuedAt = parseInstant("2026-11-25T12:05:00+00:00"); }, kEntry},
    {"signed off a second more ahead", "issued-in-future", kFires, "/issuedAt",
     [](Assessment& v) { v.issuedAt = parseInstant("2026-11-25T12:05:01+00:00"); }, kEntry},
    {"signed off a second early", "issued-before-measured", kFires, "/issuedAt",
     [](Assessment& v) { v.issuedAt = parseInstant("2026-10-05T10:19:59+01:00"); }, kEntry},
    {"signed off at once", "issued-before-measured", kSilent, "",
     [](Assessment& v) { v.issuedAt = parseInstant("2026-10-05T09:20:00+00:00"); }, kEntry},
    {"not signed off", "issued-before-measured", kSilent, "",
     [](Assessment& v) { v.issuedAt.reset(); }, kEntry},
    {"born tomorrow", "birth-in-future", kFires, "/patient/birthDate",
     [](Assessment& v) { v.patient.birthDate = parseDate("2026-11-26"); }, kEntry},
    {"born today", "birth-in-future", kSilent, "",
     [](Assessment& v) { v.patient.birthDate = parseDate("2026-11-25"); }, kEntry},
    {"born the day after", "measured-before-birth", kFires, "/patient/birthDate",
     [](Assessment& v) { v.patient.birthDate = parseDate("2026-10-06"); }, kEntry},
    {"born the same day", "measured-before-birth", kSilent, "",
     [](Assessment& v) { v.patient.birthDate = parseDate("2026-10-05"); }, kEntry},
    {"130 years and a day", "birth-too-long-ago", kFires, "/patient/birthDate",
     [](Assessment& v) { v.patient.birthDate = parseDate("1896-10-04"); }, kOurs},
    {"130 years", "birth-too-long-ago", kSilent, "",
     [](Assessment& v) { v.patient.birthDate = parseDate("1896-10-05"); }, kOurs},
    {"born on a leap day 130 years before", "birth-too-long-ago", kFires, "/patient/birthDate",
     [](Assessment& v) { v.patient.birthDate = parseDate("1896-02-29"); }, kOurs},
    {"calibrated the day after", "calibrated-after-measured", kFires, "/instruments/0/calibratedOn",
     [](Assessment& v) { v.instruments[0].calibratedOn = parseDate("2026-10-06"); }, kEntry},
    {"calibrated the same day", "calibrated-after-measured", kSilent, "",
     [](Assessment& v) { v.instruments[0].calibratedOn = parseDate("2026-10-05"); }, kEntry},
    {"calibration not known", "calibrated-after-measured", kSilent, "",
     [](Assessment& v) { v.instruments[0].calibratedOn.reset(); }, kEntry},
    {"earlier figures of the same day", "previous-not-before", kFires, "/previous/measuredOn",
     [](Assessment& v) { v.previousOn = localDate(v.measuredAt); }, kEntry},
    {"earlier figures of the day before", "previous-not-before", kSilent, "",
     [](Assessment& v) {
       v.previousOn = std::chrono::sys_days{localDate(v.measuredAt)} - std::chrono::days{1};
     },
     kEntry},
    {"an earlier index to three decimals", "previous-decimals", kFires, "/previous/legs/right/abi",
     [](Assessment& v) { set(v, Item::PreviousAbi, kRight, number("0.905")); }, kOurs},
    {"an earlier toe index to three decimals", "previous-decimals", kFires,
     "/previous/legs/left/tbi",
     [](Assessment& v) { set(v, Item::PreviousTbi, kLeft, number("0.705")); }, kOurs},
    {"an earlier index to two decimals", "previous-decimals", kSilent, "",
     [](Assessment& v) { set(v, Item::PreviousAbi, kRight, number("0.90")); }, kOurs},
    {"an earlier index that is a bound", "previous-decimals", kSilent, "",
     [](Assessment& v) { set(v, Item::PreviousAbi, kRight, number("0.905"), Comparator::Less); },
     kOurs},
};

std::span<const Case> dateCases() { return kDateCases; }

namespace {

bool numberRefused(std::string_view value) {
  Assessment visit = cleanVisit();
  setNhsNumber(visit, value);
  return blocking(validate(visit, testNow(), tables()));
}

TEST(ValidateNhsNumber, AcceptsTheNumbersThatArePublishedAsValid) {
  for (const std::string_view value :
       {"9434765919", "6541003238", "6716689966", "9912003888", "9990000018", "9990000026",
        "9990000034", "9990000042", "9876543210", "9999999999"}) {
    EXPECT_FALSE(numberRefused(value)) << value;
  }
}

TEST(ValidateNhsNumber, RefusesTheNumbersThatArePublishedAsInvalid) {
  for (const std::string_view value : {"9434765918", "0000000001", "9876544321", "1234561234"}) {
    EXPECT_TRUE(numberRefused(value)) << value;
  }
}

TEST(ValidateNhsNumber, RefusesWhatIsNotANumberOfItsKind) {
  for (const std::string_view value : {"", "0000000000", "9990000000", "NHS9434765919"}) {
    EXPECT_TRUE(numberRefused(value)) << value;
  }
}

TEST(ValidateNhsNumber, AcceptsOneLastDigitAtMost) {
  for (std::int64_t stem = 943476000; stem < 943476100; ++stem) {
    int accepted = 0;
    for (int last = 0; last < 10; ++last) {
      if (!numberRefused(std::to_string(stem) + std::to_string(last))) ++accepted;
    }
    EXPECT_LE(accepted, 1) << stem;
  }
}

TEST(ValidateIdentity, WarnsButDoesNotRefuseWhereThePatientCannotBeConfirmed) {
  Assessment visit = cleanVisit();
  visit.patient.family.clear();
  visit.patient.birthDate.reset();
  const Issues issues = validate(visit, testNow(), tables());
  EXPECT_FALSE(blocking(issues));
  EXPECT_EQ(count(issues, Severity::Warning), 2U);
}

}  // namespace
}  // namespace footbridge::test
