#include "deliver/read_back.hpp"

#include <algorithm>
#include <optional>

#include "core/text.hpp"
#include "deliver/compare.hpp"
#include "deliver/identity.hpp"
#include "json/writer.hpp"

namespace footbridge::deliver {
namespace {

constexpr std::size_t kNamed = 6;     ///< differences that a reason names; all are in the evidence
constexpr std::size_t kQuoted = 160;  ///< of each version in a reason

const json::Value* resourceOf(const json::Value& entry) { return entry.member("resource"); }

bool compared(const json::Value& entry) {
  const json::Value* resource = resourceOf(entry);
  return resource != nullptr && !comparedMembers(resource->text("resourceType")).empty();
}

/// "Observation/12" of "Observation/12/_history/3".
std::string withoutVersion(const std::string& location) {
  return location.substr(0, location.find("/_history/"));
}

/// "Observation?identifier=...", the condition under which the entry was sent.
std::string conditionOf(const json::Value& entry) {
  const json::Value* request = entry.member("request");
  if (request == nullptr) return {};
  const std::string url(request->text("url"));
  const std::string_view none = request->text("ifNoneExist");
  return none.empty() ? url : url + "?" + std::string(none);
}

std::string placeOf(const json::Value& entry, std::size_t at, const Verdict& arrived) {
  const bool told = at < arrived.stored.size() && !arrived.stored[at].location.empty();
  return told ? withoutVersion(arrived.stored[at].location) : conditionOf(entry);
}

bool asksPatient(const outbox::Person& person) { return !person.query.empty(); }

void appendRead(std::string& out, const std::string& url) {
  out += out.ends_with('[') ? "" : ",";
  out += R"({"request":{"method":"GET","url":)";
  json::appendQuoted(out, url);
  out += "}}";
}

/// What a read gave: the resource itself, or the only one of a search; nullptr if neither.
const json::Value* found(const json::Value& entry) {
  const json::Value* resource = resourceOf(entry);
  if (resource == nullptr || resource->text("resourceType") != "Bundle") return resource;
  const json::Array& hits = resource->list("entry");
  return hits.size() == 1 ? resourceOf(hits.front()) : nullptr;
}

std::string statusOf(const json::Value& entry) {
  const json::Value* response = entry.member("response");
  return response == nullptr ? "" : std::string(response->text("status").substr(0, 3));
}

std::string idOf(const json::Value& resource) {
  return std::string(resource.text("resourceType")) + "/" + std::string(resource.text("id"));
}

/// One comparison of a bundle with what was read.
class ReadBack {
 public:
  ReadBack(const json::Value& sent, const json::Value& read, const Verdict& arrived,
           const outbox::Person& person)
      : sent_(sent), read_(read.list("entry")), person_(person), out_(arrived) {
    evidence_.beginArray();
  }

  Verdict judge();

 private:
  bool takePatients();
  void leftUse(const json::Value& patient);
  void takePlaces();
  bool same(std::string_view sent, std::string_view stored) const;
  void one(const json::Value& entry, const json::Value& read, std::size_t at);
  void differ(const std::string& place, const json::Value& mine, const json::Value* theirs,
              const std::vector<Difference>& differences);

  const json::Value& sent_;
  const json::Array& read_;
  const outbox::Person& person_;
  Verdict out_;
  std::map<std::string, std::string, std::less<>> places_;  ///< of what was sent, by fullUrl
  std::vector<std::string> patients_;  ///< that bear the identifier: those in use, if any is
  std::size_t next_ = 0;
  std::size_t unread_ = 0;
  std::size_t differences_ = 0;
  std::string named_;
  json::Writer evidence_;
};

bool ReadBack::takePatients() {
  if (!asksPatient(person_)) return true;
  if (read_.empty()) return false;
  const json::Value* list = resourceOf(read_[next_++]);
  if (list == nullptr) return false;
  std::vector<const json::Value*> all;
  for (const json::Value& hit : list->list("entry")) {
    const json::Value* patient = resourceOf(hit);
    if (patient == nullptr || patient->text("resourceType") != "Patient") continue;
    all.push_back(patient);
    if (outOfUse(*patient).empty()) patients_.push_back(idOf(*patient));
  }
  if (!patients_.empty()) return true;
  for (const json::Value* patient : all) {
    patients_.push_back(idOf(*patient));
    leftUse(*patient);
  }
  return true;
}

/// Of the patient only what is the difference: nothing else of the record is kept.
void ReadBack::leftUse(const json::Value& patient) {
  const std::string_view why = outOfUse(patient);
  const std::size_t blank = why.find(' ');
  const bool link = why.starts_with("link");
  const auto only = [&](std::string_view name, json::Value value) {
    return json::Value(json::Object{{"resourceType", json::Value(std::string("Patient"))},
                                    {"id", json::Value(std::string(patient.text("id")))},
                                    {std::string(name), std::move(value)}});
  };
  const json::Value theirs =
      only(why.substr(0, blank), link ? *patient.member("link") : json::Value(false));
  differ(idOf(patient), only("active", json::Value(true)), &theirs,
         {{std::string(why.substr(0, blank)), link ? "" : "true",
           std::string(why.substr(blank + 1))}});
}

void ReadBack::takePlaces() {
  const json::Array& entries = sent_.list("entry");
  for (std::size_t i = 0; i < entries.size() && i < out_.stored.size(); ++i) {
    places_[std::string(entries[i].text("fullUrl"))] = withoutVersion(out_.stored[i].location);
  }
}

bool ReadBack::same(std::string_view sent, std::string_view stored) const {
  std::string theirs = withoutVersion(relativeLocation(stored));
  if (theirs.empty()) theirs = stored;
  if (const auto place = places_.find(sent); place != places_.end()) {
    return place->second.empty() || place->second == theirs;
  }
  if (!sent.starts_with("Patient?")) return false;
  return std::find(patients_.begin(), patients_.end(), theirs) != patients_.end();
}

void ReadBack::differ(const std::string& place, const json::Value& mine, const json::Value* theirs,
                      const std::vector<Difference>& differences) {
  const auto quoted = [](const std::string& each) {
    return each.empty() ? std::string("nothing") : std::string(shortened(each, kQuoted));
  };
  for (const Difference& each : differences) {
    if (++differences_ > kNamed) break;
    named_ += " " + place + " " + each.path + ": sent " + quoted(each.sent) + ", stored " +
              quoted(each.stored) + ".";
  }
  std::string text;
  json::appendValue(text, mine);
  evidence_.beginObject().member("resource", place).name("sent").raw(text);
  text.clear();
  if (theirs != nullptr) json::appendValue(text, *theirs);
  if (!text.empty()) evidence_.name("stored").raw(text);
  evidence_.endObject();
}

void ReadBack::one(const json::Value& entry, const json::Value& read, std::size_t at) {
  const json::Value& mine = *resourceOf(entry);
  const std::string place = placeOf(entry, at, out_);
  const std::string status = statusOf(read);
  const json::Value* theirs = status.starts_with('2') || status.empty() ? found(read) : nullptr;
  if (theirs != nullptr) {
    const auto differences = compare(
        mine, *theirs, [this](std::string_view a, std::string_view b) { return same(a, b); });
    if (!differences.empty()) differ(place, mine, theirs, differences);
    return;
  }
  const bool gone = status == "404" || status == "410" || status.starts_with('2');
  if (!gone) {
    ++unread_;
    return;
  }
  differ(place, mine, nullptr, {{status == "410" ? "(deleted)" : "(missing)", "a resource", ""}});
}

Verdict ReadBack::judge() {
  const bool asked = takePatients();
  takePlaces();
  const json::Array& entries = sent_.list("entry");
  for (std::size_t i = 0; i < entries.size(); ++i) {
    if (!compared(entries[i])) continue;
    if (next_ >= read_.size()) {
      ++unread_;
    } else {
      one(entries[i], read_[next_++], i);
    }
  }
  out_.act = Act::Done;
  out_.compared = unread_ == 0 && asked;
  out_.about = About::Bundle;
  out_.reason.clear();
  if (differences_ > 0) {
    out_.act = Act::Hold;
    out_.evidence = std::string(evidence_.endArray().text());
    out_.reason = "The record holds something else than was sent:" + named_;
  } else if (unread_ > 0 || !asked) {
    out_.act = Act::RetryBounded;
    out_.about = About::Moment;
    out_.reason = "Stored, says the server, but " + std::to_string(unread_) +
                  " resources could not be read back and compared.";
  }
  return out_;
}

/// Nothing could be read: tried again, then a person.
Verdict unread(const Answer& answer, const Verdict& arrived) {
  Verdict out = deliver::judge(ofQuestion(answer), 0, "batch");
  if (out.act == Act::Done || out.act == Act::Confirm) {
    out.act = Act::RetryBounded;
    out.about = About::Moment;
    out.reason = "The answer is no list of resources.";
  }
  if (out.act == Act::Refuse) out.act = Act::Hold;
  out.reason = "Stored, says the server, but it could not be read back and compared. " +
               out.reason + " If this server cannot be read, set read_back = \"never\" for it.";
  out.stored = arrived.stored;
  return out;
}

}  // namespace

std::string readBackRequest(std::string_view bundle, const Verdict& arrived,
                            const outbox::Person& person) {
  const Result<json::Value> sent = json::read(bundle);
  if (!sent) return {};
  std::string out = R"({"resourceType":"Bundle","type":"batch","entry":[)";
  if (asksPatient(person)) appendRead(out, "Patient?identifier=" + person.query);
  bool any = false;
  const json::Array& entries = sent->list("entry");
  for (std::size_t i = 0; i < entries.size(); ++i) {
    if (!compared(entries[i])) continue;
    any = true;
    appendRead(out, placeOf(entries[i], i, arrived));
  }
  return any ? out + "]}" : std::string();
}

Verdict judgeReadBack(const Answer& answer, std::string_view bundle, const Verdict& arrived,
                      const outbox::Person& person) {
  const bool answered = answer.wire == Wire::Answered && answer.status == 200;
  const Result<json::Value> read = json::read(answered ? answer.body : "");
  const Result<json::Value> sent = json::read(bundle);
  if (!read || !sent || read->text("resourceType") != "Bundle") return unread(answer, arrived);
  return ReadBack(*sent, *read, arrived, person).judge();
}

}  // namespace footbridge::deliver
