#include "intake_cases.hpp"

#include <cctype>
#include <cstdio>
#include <cstdlib>
#include <sstream>

#include "intake/texts.hpp"

namespace footbridge::test {
namespace {

constexpr std::string_view kGoodDocument = R"({
  "format": "footbridge-assessment-1",
  "identifier": {"system": "https://clinic.example/assessments", "value": "T-0001"},
  "revision": 1,
  "status": "final",
  "measuredAt": "2026-10-05T10:20:00+01:00",
  "issuedAt": "2026-10-05T11:05:00+01:00",
  "patient": {
    "identifiers": [{"system": "https://fhir.nhs.uk/Id/nhs-number", "value": "9992900741"}],
    "family": "Invented", "given": ["Ada", "May"], "birthDate": "1951-04-12", "gender": "female"
  },
  "performer": {
    "identifier": {"system": "https://clinic.example/staff", "value": "77"},
    "name": "B. Nurse", "role": "nurse"
  },
  "organization": {
    "identifier": {"system": "https://clinic.example/sites", "value": "1"}, "name": "Foot clinic"
  },
  "encounter": {"identifier": {"system": "https://clinic.example/visits", "value": "V-9"}},
  "order": {"identifier": {"system": "https://surgery.example/referrals", "value": "R-5"}},
  "replaces": {"system": "https://clinic.example/assessments", "value": "A-0"},
  "instruments": [
    {"kind": "doppler", "manufacturer": "Invented", "model": "D", "serial": "1",
     "calibratedOn": "2026-01-12"}
  ],
  "conditions": {"posture": "supine", "restMinutes": 10, "method": "manual-doppler", "room": "warm"},
  "history": {"diabetes": "none", "kidneyDisease": "none", "dialysis": "no", "smoking": "never"},
  "systemic": {"temperature": 36.8, "heartRate": 72, "respiratoryRate": 14, "paco2": 40,
    "whiteCells": 6.5, "bandForms": 2},
  "exercise": {"protocol": "treadmill", "minutesAfter": 1},
  "arms": {
    "right": {"systolic": 132, "diastolic": 78, "systolicAfterExercise": 150},
    "left": {"systolic": 128, "diastolic": 76}
  },
  "legs": {
    "right": {
      "pulses": {"femoral": "normal", "popliteal": "normal", "dorsalisPedis": "reduced",
        "posteriorTibial": {"grade": 2, "scale": "0-3"}},
      "doppler": {"femoral": "triphasic", "popliteal": "triphasic", "dorsalisPedis": "biphasic",
        "posteriorTibial": "multiphasic", "peroneal": "monophasic", "anteriorTibial": "triphasic"},
      "ankle": {"dorsalisPedis": 128, "posteriorTibial": 134, "peroneal": 120, "anteriorTibial": 126},
      "toe": {"pressure": 96, "digit": "great", "sensor": "photoplethysmography"},
      "segments": {"highThigh": 160, "lowThigh": 150, "calf": 140},
      "tcpo2": 55, "capillaryRefill": 2,
      "exercise": {"dorsalisPedis": 120, "posteriorTibial": 124},
      "restPain": {"present": "present", "days": 20},
      "claudication": {"present": "present", "distance": 150},
      "wound": {"depth": "superficial", "site": "toe", "area": 1.5, "days": 30},
      "gangrene": "none",
      "infection": {"present": "present", "swelling": "present", "erythema": 1,
        "tenderness": "absent", "warmth": "absent", "pus": "absent", "deep": "none"},
      "stated": {"wound": "1", "ischaemia": "0", "infection": "1", "unsalvageable": "no",
        "fontaine": "III", "rutherford": "4"},
      "history": {"revascularisation": "none", "amputation": "none"}
    },
    "left": {"ankle": {"dorsalisPedis": 126, "posteriorTibial": 131}, "toe": {"pressure": 93}}
  },
  "previous": {"measuredOn": "2025-10-06",
    "legs": {"right": {"abi": 1.02, "tbi": 0.70, "toePressure": 92}}},
  "note": "Invented: no real person, place or reading."
})";

}  // namespace

const Tables& tables() {
  static const Result<Tables> kTables = embeddedTables();
  if (!kTables) {
    for (const Issue& issue : kTables.issues()) std::fprintf(stderr, "%s\n", issue.text.c_str());
    std::abort();
  }
  return *kTables;
}

std::string_view goodDocument() { return kGoodDocument; }

intake::Intake readBytes(std::string_view bytes) {
  static const intake::AssessmentReader kReader(tables());
  return kReader.read(bytes);
}

intake::Intake readEdited(const std::vector<Edit>& edits) {
  return readBytes(edited(kGoodDocument, edits));
}

Issues issuesOfInput(const std::string& bytes) {
  std::istringstream in(bytes);
  intake::Texts texts(in, "input", intake::Layout::Detect);
  Issues out;
  while (std::optional<intake::Text> text = texts.next()) {
    const bool taken = text->issues.empty();
    append(out, std::move(text->issues));
    if (taken) append(out, readBytes(text->bytes).issues);
  }
  return out;
}

Issues ofRule(const Issues& issues, std::string_view rule) {
  Issues out;
  for (const Issue& issue : issues) {
    if (issue.rule == rule) out.push_back(issue);
  }
  return out;
}

std::string listed(const Issues& issues) {
  std::string out;
  for (const Issue& issue : issues) {
    out += "  " + issue.rule + " " + issue.place + ": " + issue.text.substr(0, 200) + "\n";
  }
  return out;
}

std::ostream& operator<<(std::ostream& out, const Case& value) { return out << value.name; }

std::string testName(std::string_view words, std::size_t index) {
  std::string name{words};
  for (char& c : name) c = std::isalnum(static_cast<unsigned char>(c)) != 0 ? c : '_';
  return name + "_" + std::to_string(index);
}

}  // namespace footbridge::test
