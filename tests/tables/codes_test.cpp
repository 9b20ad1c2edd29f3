// What can be said of a code without a terminology server: its check digit, and that nothing
// doubtful is passed for certain.

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include "tables/tables.hpp"

namespace footbridge {
namespace {

constexpr std::string_view kSnomed = "http://snomed.info/sct";
constexpr std::string_view kLoinc = "http://loinc.org";

const Tables& embedded() {
  static const Result<Tables> kTables = embeddedTables();
  return *kTables;
}

bool allDigits(std::string_view text) {
  return !text.empty() && text.find_first_not_of("0123456789") == std::string_view::npos;
}

/// Multiplication in the dihedral group of order ten, Verhoeff's numbering.
std::size_t times(std::size_t a, std::size_t b) {
  if (a < 5) return b < 5 ? (a + b) % 5 : (a + b) % 5 + 5;
  return b < 5 ? (a + 5 - b) % 5 + 5 : (a + 5 - b) % 5;
}

/// SNOMED CT identifiers end in a check digit by Verhoeff's method.
bool verhoeff(std::string_view code) {
  static constexpr std::array<std::size_t, 10> kPermutation{1, 5, 7, 6, 2, 8, 3, 0, 9, 4};
  std::size_t check = 0;
  for (std::size_t i = 0; i < code.size(); ++i) {
    std::size_t digit = static_cast<std::size_t>(code[code.size() - 1 - i] - '0');
    for (std::size_t k = 0; k < i % 8; ++k) digit = kPermutation[digit];
    check = times(check, digit);
  }
  return check == 0;
}

/// A concept identifier: partition 00 (international) or 10 (extension) before the check digit.
bool snomedConcept(std::string_view code) {
  if (!allDigits(code) || code.size() < 6 || code.size() > 18) return false;
  const std::string_view partition = code.substr(code.size() - 3, 2);
  return (partition == "00" || partition == "10") && verhoeff(code);
}

/// LOINC: every other digit from the right is doubled, and the sum of all digits rounded up to ten.
bool loincCode(std::string_view code) {
  if (code.size() < 3 || code[code.size() - 2] != '-') return false;
  const std::string_view number = code.substr(0, code.size() - 2);
  if (!allDigits(number) || !allDigits(code.substr(code.size() - 1))) return false;
  int sum = 0;
  for (std::size_t i = 0; i < number.size(); ++i) {
    const int digit = number[number.size() - 1 - i] - '0';
    const int value = i % 2 == 0 ? 2 * digit : digit;
    sum += value / 10 + value % 10;
  }
  return (10 - sum % 10) % 10 == code.back() - '0';
}

TEST(CheckDigits, TellARightCodeFromAWrongOne) {
  EXPECT_TRUE(snomedConcept("446841001"));
  EXPECT_FALSE(snomedConcept("446841002"));
  EXPECT_FALSE(snomedConcept("464841001")) << "two digits exchanged";
  EXPECT_FALSE(snomedConcept("44684100"));
  EXPECT_TRUE(loincCode("8480-6"));
  EXPECT_TRUE(loincCode("77194-9"));
  EXPECT_FALSE(loincCode("8480-7"));
  EXPECT_FALSE(loincCode("84806"));
}

// Codes kept as evidence only are held to it as well: a slip of the pen helps nobody.
TEST(Codes, EveryCheckDigitIsRight) {
  std::size_t seen = 0;
  for (const Concept& row : embedded().concepts) {
    for (const Coding& coding : row.codings) {
      // Codes of HL7's own systems have no check digit.
      if (coding.system.starts_with("http://terminology.hl7.org/CodeSystem/")) continue;
      ++seen;
      ASSERT_TRUE(coding.system == kSnomed || coding.system == kLoinc) << row.id;
      const bool right =
          coding.system == kSnomed ? snomedConcept(coding.code) : loincCode(coding.code);
      EXPECT_TRUE(right) << row.id << ' ' << coding.code;
    }
  }
  EXPECT_GT(seen, 90U);
}

TEST(Codes, NothingIsVerifiedInOneRowAndDoubtfulInAnother) {
  std::set<std::pair<std::string, std::string>> verified;
  for (const Concept& row : embedded().concepts) {
    for (const Coding& coding : row.codings) {
      if (coding.verified) verified.emplace(coding.system, coding.code);
    }
  }
  for (const Concept& row : embedded().concepts) {
    for (const Coding& coding : row.codings) {
      if (coding.verified) continue;
      EXPECT_FALSE(verified.contains({coding.system, coding.code})) << row.id << ' ' << coding.code;
    }
  }
}

// One code displayed in two ways would make one of them wrong.
TEST(Codes, OneCodeHasOneDisplayAndASource) {
  std::map<std::pair<std::string, std::string>, std::string> displays;
  for (const Concept& row : embedded().concepts) {
    for (const Coding& coding : row.codings) {
      EXPECT_FALSE(coding.source.empty()) << row.id;
      const auto [found, fresh] =
          displays.emplace(std::pair{coding.system, coding.code}, coding.display);
      EXPECT_EQ(found->second, coding.display) << row.id << ' ' << coding.code;
    }
  }
}

TEST(Concepts, EachIdIsFoundAndFitToBeACode) {
  for (const Concept& row : embedded().concepts) {
    EXPECT_EQ(embedded().concept_(row.id), &row);
    EXPECT_EQ(row.id.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789-"), std::string::npos)
        << row.id;
    EXPECT_FALSE(row.label.empty()) << row.id;
    EXPECT_FALSE(row.definition.empty()) << row.id;
  }
  EXPECT_EQ(embedded().concept_("no-such-concept"), nullptr);
}

}  // namespace
}  // namespace footbridge
