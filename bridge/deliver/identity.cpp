#include "deliver/identity.hpp"

#include <algorithm>

#include "json/value.hpp"

namespace footbridge::deliver {
namespace {

using outbox::Person;

/// Letters only and in small ones: "O'Neill-Smith" is "oneillsmith". Beyond ASCII bytes stay.
std::string comparable(std::string_view name) {
  std::string out;
  for (const char c : name) {
    if (c >= 'A' && c <= 'Z') out += static_cast<char>(c + 32);
    if ((c >= 'a' && c <= 'z') || c < 0) out += c;
  }
  return out;
}

bool bears(const json::Value& patient, const Person& person) {
  const json::Array& all = patient.list("identifier");
  return std::any_of(all.begin(), all.end(), [&person](const json::Value& each) {
    return each.text("system") == person.system && each.text("value") == person.value;
  });
}

/// Patients of the answer that bear the identifier: some servers ignore what they cannot search by
/// and answer with everybody.
std::vector<const json::Value*> matches(const json::Value& bundle, const Person& person) {
  std::vector<const json::Value*> out;
  for (const json::Value& entry : bundle.list("entry")) {
    const json::Value* resource = entry.member("resource");
    if (resource == nullptr || resource->text("resourceType") != "Patient") continue;
    if (bears(*resource, person)) out.push_back(resource);
  }
  return out;
}

enum class Agreement : std::uint8_t { Unknown, Yes, No };

Agreement birthDates(const json::Value& patient, const Person& person) {
  const std::string_view theirs = patient.text("birthDate");
  if (theirs.empty() || person.birthDate.empty()) return Agreement::Unknown;
  // The record may know the year or the month only.
  return person.birthDate.starts_with(theirs) ? Agreement::Yes : Agreement::No;
}

Agreement familyNames(const json::Value& patient, const Person& person) {
  const std::string mine = comparable(person.family);
  Agreement out = Agreement::Unknown;
  if (mine.empty()) return out;
  for (const json::Value& name : patient.list("name")) {
    const std::string theirs = comparable(name.text("family"));
    if (theirs.empty()) continue;
    if (theirs == mine) return Agreement::Yes;
    out = Agreement::No;
  }
  return out;
}

Verdict held(std::string reason) {
  Verdict out;
  out.act = Act::Hold;
  out.about = About::Bundle;
  out.reason = std::move(reason);
  return out;
}

Verdict confirm(const json::Value& patient, const Person& person) {
  const Agreement birth = birthDates(patient, person);
  const Agreement family = familyNames(patient, person);
  if (birth == Agreement::No || family == Agreement::No) {
    std::string what = birth == Agreement::No ? "birth date" : "family name";
    if (birth == Agreement::No && family == Agreement::No) what = "birth date and family name";
    return held("The record's patient with this identifier has another " + what +
                ". Find out whose readings these are; correct the record or send a new revision.");
  }
  if (birth == Agreement::Unknown && family == Agreement::Unknown) {
    return held(
        "Neither birth date nor family name can be compared with the record's patient. Complete "
        "the record or the assessment, or set identity = \"trust\" for this destination.");
  }
  Verdict out;
  out.act = Act::Done;
  return out;
}

std::vector<const json::Value*> activeOf(const std::vector<const json::Value*>& found) {
  std::vector<const json::Value*> alive;
  std::copy_if(found.begin(), found.end(), std::back_inserter(alive),
               [](const json::Value* each) { return outOfUse(*each).empty(); });
  return alive;
}

Verdict judgeMatches(const std::vector<const json::Value*>& found, const Person& person) {
  const std::vector<const json::Value*> alive = activeOf(found);
  if (alive.size() > 1) {
    return held("The record holds " + std::to_string(alive.size()) +
                " patients with this identifier. Have them merged, then release it.");
  }
  if (alive.size() == 1) return confirm(*alive.front(), person);
  if (!found.empty()) {
    return held(
        "The record's patient with this identifier is marked inactive, or was replaced by another "
        "one (merged). "
        "Send the assessment with the identifier that is in use, as a new revision.");
  }
  if (person.check == Person::Check::MayExist) {
    Verdict out;
    out.act = Act::Done;
    return out;
  }
  return held(
      "The record holds no patient with this identifier. Register the patient there, or correct "
      "the "
      "identifier in a new revision, then release it.");
}

}  // namespace

std::string_view outOfUse(const json::Value& patient) {
  const json::Value* flag = patient.member("active");
  if (flag != nullptr && flag->asBool() != nullptr && !*flag->asBool()) return "active false";
  const json::Array& links = patient.list("link");
  const bool replaced = std::any_of(links.begin(), links.end(), [](const json::Value& each) {
    return each.text("type") == "replaced-by";
  });
  return replaced ? "link replaced-by" : std::string_view{};
}

std::string identityQuery(const Person& person) { return "/Patient?identifier=" + person.query; }

Verdict judgeIdentity(const Answer& answer, const Person& person) {
  if (answer.wire != Wire::Answered || answer.status != 200) {
    Verdict out = judge(ofQuestion(answer), 0, "");
    if (out.act == Act::Done || out.act == Act::Confirm) out.act = Act::RetryBounded;
    if (out.act == Act::Refuse) out.act = Act::Hold;
    out.reason = "Looking for the patient: " + out.reason;
    return out;
  }
  const Result<json::Value> bundle = json::read(answer.body);
  if (bundle && bundle->text("resourceType") == "Bundle") {
    return judgeMatches(matches(*bundle, person), person);
  }
  Verdict out = held("The answer to the search for the patient is no FHIR bundle. Check base.");
  out.act = Act::RetryBounded;
  out.about = About::Moment;
  return out;
}

std::string patientPlace(const Answer& answer, const Person& person) {
  const Result<json::Value> bundle = json::read(answer.body);
  if (!bundle) return {};
  const std::vector<const json::Value*> alive = activeOf(matches(*bundle, person));
  if (alive.size() != 1 || alive.front()->text("id").empty()) return {};
  return "Patient/" + std::string(alive.front()->text("id"));
}

std::string withPatient(std::string bundle, const Person& person, std::string_view place) {
  if (place.empty()) return bundle;
  const std::string condition = "\"reference\":\"" + identityQuery(person).substr(1) + "\"";
  const std::string literal = "\"reference\":\"" + std::string(place) + "\"";
  std::string out;
  out.reserve(bundle.size());
  std::size_t from = 0;
  for (std::size_t at = bundle.find(condition); at != std::string::npos;
       at = bundle.find(condition, from)) {
    out.append(bundle, from, at - from) += literal;
    from = at + condition.size();
  }
  return out.append(bundle, from);
}

}  // namespace footbridge::deliver
