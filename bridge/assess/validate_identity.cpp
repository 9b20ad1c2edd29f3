// Whether the patient can be found and confirmed at the record. A number that cannot be right is an
// error: results under a wrong number are the worst thing this program could send. The sentences
// never repeat a number or a name, since issues are printed and logged.

#include <algorithm>
#include <array>

#include "assess/validate_visit.hpp"

namespace footbridge::validation {
namespace {

using Digits = std::array<int, 10>;

bool separator(char c) { return c == ' ' || c == '-' || c == '\t'; }

/// The ten digits of a number, separators left out; nothing if it is anything else.
std::optional<Digits> tenDigits(std::string_view text) {
  Digits digits{};
  std::size_t count = 0;
  for (const char c : text) {
    if (separator(c)) continue;
    if (c < '0' || c > '9' || count == digits.size()) return std::nullopt;
    digits[count++] = c - '0';
  }
  return count == digits.size() ? std::optional{digits} : std::nullopt;
}

/// Modulus 11: weights 10 to 2, the remainder taken from 11; 11 stands for 0 and 10 never matches.
bool nhsCheckDigitFits(const Digits& digits) {
  constexpr int kModulus = 11;
  int sum = 0;
  for (std::size_t i = 0; i < 9; ++i) sum += digits[i] * (10 - static_cast<int>(i));
  return (kModulus - sum % kModulus) % kModulus == digits[9];
}

/// The Luhn sum with the prefix 80840 that the number has on health cards, which adds 24.
bool npiCheckDigitFits(const Digits& digits) {
  constexpr int kPrefixSum = 24;
  int sum = kPrefixSum;
  for (std::size_t i = 0; i < digits.size(); ++i) {
    const int weighted = digits[i] * (i % 2 == 0 ? 2 : 1);
    sum += weighted / 10 + weighted % 10;
  }
  return sum % 10 == 0;
}

/// One digit ten times, or each digit one more (or one less) than that before it, 0 following 9.
bool patterned(const Digits& digits) {
  const auto steps = [&](int step) {
    for (std::size_t i = 1; i < digits.size(); ++i) {
      if (digits[i] != (digits[i - 1] + step + 10) % 10) return false;
    }
    return true;
  };
  return steps(0) || steps(1) || steps(-1);
}

/// 999 000 0000 to 999 999 9999: valid by arithmetic and never issued.
bool testRange(const Digits& digits) {
  return std::all_of(digits.begin(), digits.begin() + 3, [](int digit) { return digit == 9; });
}

bool allZero(const Digits& digits) {
  return std::all_of(digits.begin(), digits.end(), [](int digit) { return digit == 0; });
}

void checkNhsDigits(Visit& visit, const Digits& digits, const std::string& place) {
  if (allZero(digits)) return visit.remarkAt("nhs-number-zero", place);
  if (!nhsCheckDigitFits(digits)) return visit.remarkAt("nhs-number-check-digit", place);
  if (patterned(digits)) visit.remarkAt("nhs-number-patterned", place);
  if (testRange(digits)) visit.remarkAt("nhs-number-test-range", place);
}

void checkNhsNumber(Visit& visit, std::string_view value, const std::string& place) {
  const std::optional<Digits> digits = tenDigits(value);
  if (!digits) return visit.remarkAt("nhs-number-form", place);
  if (std::any_of(value.begin(), value.end(), separator)) {
    visit.remarkAt("nhs-number-spaced", place);
  }
  checkNhsDigits(visit, *digits, place);
}

void checkNpi(Visit& visit, std::string_view value, const std::string& place) {
  const std::optional<Digits> digits = tenDigits(value);
  const bool tenExactly = digits && value.size() == digits->size();
  if (!tenExactly) return visit.remarkAt("npi-form", place);
  if (!npiCheckDigitFits(*digits)) visit.remarkAt("npi-check-digit", place);
}

/// Which numbers can be checked, by the system that they belong to. A new one is a line here, its
/// check above and its sentences in mapping/rules.json.
struct IdentifierCheck {
  std::string_view system;
  void (*check)(Visit&, std::string_view, const std::string&);
};

constexpr std::array kIdentifierChecks{
    IdentifierCheck{"https://fhir.nhs.uk/Id/nhs-number", checkNhsNumber},
    IdentifierCheck{"http://hl7.org/fhir/sid/us-npi", checkNpi}};

bool edgeSpace(std::string_view text) { return trimmed(text).size() != text.size(); }

void checkIdentifier(Visit& visit, const Identifier& identifier, const std::string& place) {
  for (const IdentifierCheck& known : kIdentifierChecks) {
    if (known.system == identifier.system) {
      return known.check(visit, identifier.value, place + "/value");
    }
  }
  if (edgeSpace(identifier.value)) visit.remarkAt("identifier-edge-space", place + "/value");
}

/// An earlier identifier of the same system, if there is one.
const Identifier* earlierOfSystem(const std::vector<Identifier>& identifiers, std::size_t at) {
  const auto end = identifiers.begin() + static_cast<std::ptrdiff_t>(at);
  const auto found = std::find_if(identifiers.begin(), end, [&](const Identifier& earlier) {
    return earlier.system == identifiers[at].system;
  });
  return found == end ? nullptr : &*found;
}

void checkPatientIdentifier(Visit& visit, std::size_t at) {
  const auto& identifiers = visit.assessment().patient.identifiers;
  const std::string place = "/patient/identifiers/" + std::to_string(at);
  checkIdentifier(visit, identifiers[at], place);
  const Identifier* earlier = earlierOfSystem(identifiers, at);
  if (earlier == nullptr) return;
  const bool same = earlier->value == identifiers[at].value;
  visit.remarkAt(choose(same, "identifier-repeated", "identifier-system-twice"), place);
}

void checkParty(Visit& visit, const Party& party, const std::string& place) {
  if (party.identifier) checkIdentifier(visit, *party.identifier, place + "/identifier");
}

void checkConfirmable(Visit& visit) {
  const Patient& patient = visit.assessment().patient;
  if (trimmed(patient.family).empty()) visit.remarkAt("patient-family-missing", "/patient");
  if (!patient.birthDate) visit.remarkAt("patient-birth-date-missing", "/patient");
}

/// A withdrawal says why, and there has to be something to withdraw.
void checkWithdrawal(Visit& visit) {
  const Assessment& assessment = visit.assessment();
  if (trimmed(assessment.note).empty()) visit.remarkAt("withdrawal-reason-missing", "/note");
  visit.remarkAt(choose(assessment.revision > 1, "status-withdrawn", "withdrawal-first"),
                 "/status");
}

void checkRevision(Visit& visit) {
  const Assessment& assessment = visit.assessment();
  if (assessment.replaces && *assessment.replaces == assessment.identifier) {
    visit.remarkAt("replaces-itself", "/replaces");
  }
  if (assessment.status == Status::EnteredInError) return checkWithdrawal(visit);
  if (assessment.status == Status::Preliminary) visit.remarkAt("status-preliminary", "/status");
  if (assessment.revision > 1) {
    visit.remarkAt("revision-replaces", "/revision",
                   {{"revision", std::to_string(assessment.revision)}});
  } else if (assessment.status == Status::Corrected) {
    visit.remarkAt("status-corrected-first", "/status");
  }
}

}  // namespace

void checkIdentity(Visit& visit) {
  const Assessment& assessment = visit.assessment();
  for (std::size_t i = 0; i < assessment.patient.identifiers.size(); ++i) {
    checkPatientIdentifier(visit, i);
  }
  checkConfirmable(visit);
  checkParty(visit, assessment.performer, "/performer");
  checkParty(visit, assessment.organization, "/organization");
  checkRevision(visit);
}

}  // namespace footbridge::validation
