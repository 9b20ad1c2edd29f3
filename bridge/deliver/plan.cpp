#include "deliver/plan.hpp"

#include <algorithm>

#include "deliver/compare.hpp"
#include "json/writer.hpp"

namespace footbridge::deliver {
namespace {

using config::Strategy;

constexpr std::size_t kNamed = 5;  ///< stored resources that a reason names

bool stores(long status) { return status >= 200 && status < 300 && status != 202; }

/// A version may have changed meanwhile: R4 says 412, some servers 409.
bool conflicts(long status) { return status == 412 || status == 409; }

Verdict verdictOf(Act act, About about, std::string reason) {
  Verdict out;
  out.act = act;
  out.about = about;
  out.reason = std::move(reason);
  return out;
}

/// What a failed single request means; success without content is doubtful here.
Verdict judgeSingle(const Answer& answer) {
  Verdict out = judge(answer, 1, "single");
  out.stored.clear();
  if (out.act == Act::Confirm) {
    out.act = Act::RetryBounded;
    out.reason = "The server took it without storing it so far.";
  } else if (out.act == Act::Done) {
    out.act = Act::RetryBounded;
    out.about = About::Moment;
    out.reason = "Answer " + std::to_string(answer.status) + " does not say what was stored.";
  }
  return out;
}

/// The resources of a search's answer that meet the condition; nothing if it is no such answer.
std::optional<std::vector<json::Value>> hitsOf(const Answer& answer, std::string_view type,
                                               std::string_view condition) {
  if (answer.wire != Wire::Answered || answer.status != 200) return std::nullopt;
  Result<json::Value> body = json::read(answer.body);
  if (!body || body->text("resourceType") != "Bundle") return std::nullopt;
  std::vector<json::Value> out;
  for (const json::Value& entry : body->list("entry")) {
    const json::Value* resource = entry.member("resource");
    const bool right = resource != nullptr && resource->text("resourceType") == type &&
                       meets(*resource, condition);
    if (right) out.push_back(*resource);
  }
  return out;
}

bool active(const json::Value& patient) {
  const json::Value* flag = patient.member("active");
  return flag == nullptr || flag->asBool() == nullptr || *flag->asBool();
}

std::string placeOf(const json::Value& resource) {
  return plainPlace(std::string(resource.text("resourceType")) + "/" +
                    std::string(resource.text("id")));
}

std::string etagOf(const json::Value& resource) {
  const json::Value* meta = resource.member("meta");
  const std::string_view version = meta == nullptr ? "" : meta->text("versionId");
  return version.empty() ? "" : "W/\"" + std::string(version) + "\"";
}

Stored storedAs(const json::Value& resource, long status) {
  Stored out;
  out.status = status;
  out.location = placeOf(resource);
  out.etag = etagOf(resource);
  const json::Value* meta = resource.member("meta");
  if (meta != nullptr) out.modified = meta->text("lastUpdated");
  return out;
}

/// Letters that a header may hold: an ETag comes from the server.
bool headerSafe(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [](char c) { return c > ' ' && c < '\x7F'; });
}

Stage firstStage(const Part& part, Strategy strategy) {
  if (part.wish == Wish::Replace || strategy == Strategy::Batch) return Stage::Write;
  if (strategy == Strategy::Single && part.wish == Wish::Create) return Stage::Write;
  if (strategy == Strategy::ConditionalUpdate && !isShared(part.type)) return Stage::Write;
  return Stage::Look;
}

std::string evidenceOf(const std::string& place, const std::string& sent,
                       const json::Value& theirs) {
  std::string stored;
  json::appendValue(stored, theirs);
  json::Writer out;
  out.beginArray().beginObject().member("resource", place).name("sent").raw(sent);
  out.name("stored").raw(stored).endObject().endArray();
  return std::string(out.text());
}

}  // namespace

Result<Plan> Plan::make(std::string_view bundle, Strategy strategy) {
  Result<std::vector<Part>> parts = partsOf(bundle);
  if (!parts) return parts.issues();
  return Plan(*std::move(parts), strategy);
}

Plan::Plan(std::vector<Part> parts, Strategy strategy)
    : strategy_(strategy), parts_(std::move(parts)) {
  for (const Part& part : parts_) {
    progress_.push_back({firstStage(part, strategy), {}, plainPlace(part.place)});
  }
}

/// A reference to the record's patient that was not looked up yet, or "". Only a transaction may
/// hold such ones (R4 http.html, conditional references).
std::string Plan::unknownPatient() const {
  for (const Part& part : parts_) {
    for (const std::string& need : part.needs) {
      if (need.starts_with("Patient?") && known_.find(need) == known_.end()) return need;
    }
  }
  return {};
}

bool Plan::free(const Part& part) const {
  return std::all_of(part.needs.begin(), part.needs.end(),
                     [this](const std::string& need) { return known_.find(need) != known_.end(); });
}

/// Parts that are to be written and whose references are all known.
std::vector<std::size_t> Plan::ready() const {
  std::vector<std::size_t> out;
  for (std::size_t i = 0; i < parts_.size(); ++i) {
    if (progress_[i].stage == Stage::Write && free(parts_[i])) out.push_back(i);
  }
  return out;
}

/// The part that the next single request is about; none: the next one is a batch.
std::optional<std::size_t> Plan::turn() const {
  for (std::size_t i = 0; i < parts_.size(); ++i) {
    const Stage stage = progress_[i].stage;
    if (stage == Stage::Done || !free(parts_[i])) continue;
    if (stage != Stage::Write || strategy_ != Strategy::Batch) return i;
  }
  return std::nullopt;
}

Call Plan::batch() const {
  Call out;
  out.method = "POST";
  out.path.clear();
  out.body = R"({"resourceType":"Bundle","type":"batch","entry":[)";
  for (const std::size_t i : ready()) {
    if (out.body.back() == '}') out.body += ',';
    out.body += R"({"fullUrl":")" + parts_[i].name + R"(","resource":)";
    out.body += withReferences(parts_[i].resource, known_);
    out.body += R"(,"request":)" + parts_[i].request + "}";
  }
  out.body += "]}";
  return out;
}

Call Plan::writing(std::size_t at) const {
  const Part& part = parts_[at];
  const std::string& place = progress_[at].place;
  Call out;
  out.method = "PUT";
  out.body = withReferences(part.resource, known_);
  if (!place.empty()) {
    out.path = "/" + place;
    out.body = withId(out.body, std::string_view(place).substr(place.find('/') + 1));
    if (headerSafe(part.match)) out.ifMatch = part.match;
  } else if (strategy_ == Strategy::ClientIds) {
    const std::string id = part.name.substr(part.name.rfind(':') + 1);
    out.path = "/" + part.type + "/" + id;
    out.body = withId(out.body, id);
  } else if (strategy_ == Strategy::ConditionalUpdate && !isShared(part.type)) {
    out.path = "/" + part.type + "?" + part.condition;
  } else {
    out.method = "POST";
    out.path = "/" + part.type;
    if (strategy_ == Strategy::Single) out.ifNoneExist = part.condition;
    if (out.ifNoneExist.empty()) out.repeat = Repeat::Never;
  }
  return out;
}

Call Plan::next() const {
  Call out;
  if (const std::string patient = unknownPatient(); !patient.empty()) {
    out.path = "/" + patient;
    return out;
  }
  const std::optional<std::size_t> at = turn();
  if (!at) return batch();
  if (progress_[*at].stage == Stage::Write) return writing(*at);
  out.path = "/" + (progress_[*at].stage == Stage::Compare
                        ? progress_[*at].place
                        : parts_[*at].type + "?" + parts_[*at].condition);
  return out;
}

std::optional<Verdict> Plan::take(const Answer& answer) {
  if (const std::string patient = unknownPatient(); !patient.empty()) {
    return takePatient(answer, patient);
  }
  const std::optional<std::size_t> at = turn();
  if (!at) return takeBatch(answer);
  switch (progress_[*at].stage) {
    case Stage::Write:
      return takeWritten(answer, *at);
    case Stage::Compare:
      return takeCompared(answer, *at);
    default:
      return takeSearch(answer, *at);
  }
}

std::optional<Verdict> Plan::takePatient(const Answer& answer, const std::string& reference) {
  auto hits = hitsOf(answer, "Patient", std::string_view(reference).substr(8));
  if (!hits) return failed(judgeSingle(answer), "Looking for the patient");
  std::erase_if(*hits, [](const json::Value& each) { return !active(each); });
  const std::string place = hits->size() == 1 ? placeOf(hits->front()) : std::string();
  if (place.empty()) {
    return failed(verdictOf(Act::Hold, About::Bundle,
                            "The record holds " + std::to_string(hits->size()) +
                                " active patients with this identifier where it needs exactly "
                                "one. Register the patient, or have the doubles merged, then "
                                "release it."),
                  "Looking for the patient");
  }
  known_[reference] = place;
  return std::nullopt;
}

std::optional<Verdict> Plan::takeSearch(const Answer& answer, std::size_t at) {
  const Part& part = parts_[at];
  Progress& now = progress_[at];
  const auto hits = hitsOf(answer, part.type, part.condition);
  if (!hits) return failed(judgeSingle(answer), "Looking for the " + part.type);
  if (hits->size() > 1) {
    return failed(verdictOf(Act::Hold, About::Bundle,
                            "The record holds " + std::to_string(hits->size()) + " of " +
                                part.condition + ". Have the doubles removed, then release it."),
                  "Looking for the " + part.type);
  }
  if (now.stage == Stage::Place) {
    if (hits->empty()) {
      now.stage = firstStage(part, strategy_);
      return failed(verdictOf(Act::RetryBounded, About::Moment,
                              "Stored, says the server, but not where, and it is not found by " +
                                  part.condition + "."),
                    part.type);
    }
    Stored stored = storedAs(hits->front(), now.stored.status);
    finish(at, std::move(stored));
  } else if (hits->empty()) {
    now.stage = Stage::Write;
  } else if (part.wish == Wish::Create) {
    finish(at, storedAs(hits->front(), 200));
  } else {
    now.place = placeOf(hits->front());
    now.stage = Stage::Write;
  }
  return conclude();
}

std::optional<Verdict> Plan::takeWritten(const Answer& answer, std::size_t at) {
  Progress& now = progress_[at];
  const Part& part = parts_[at];
  if (part.wish == Wish::Replace && conflicts(answer.status)) {
    now.stage = Stage::Compare;
    return std::nullopt;
  }
  const Result<json::Value> body = json::read(answer.body);
  const bool fhir = body && !body->text("resourceType").empty();
  const bool understood = fhir || answer.body.empty();
  if (answer.wire != Wire::Answered || !stores(answer.status) || !understood) {
    return failed(judgeSingle(answer), part.type);
  }
  Stored stored;
  const bool theSame = fhir && body->text("resourceType") == part.type;
  if (theSame) stored = storedAs(*body, answer.status);
  stored.status = answer.status;
  const std::string told = relativeLocation(answer.location);
  if (plainPlace(told).starts_with(part.type + "/")) stored.location = told;
  if (!answer.etag.empty()) stored.etag = answer.etag;
  // An update goes to a place that we named; there is nothing to ask for.
  if (stored.location.empty()) stored.location = now.place;
  finish(at, std::move(stored));
  return conclude();
}

std::optional<Verdict> Plan::takeCompared(const Answer& answer, std::size_t at) {
  const Result<json::Value> theirs = json::read(answer.body);
  const bool read = answer.wire == Wire::Answered && answer.status == 200 && theirs &&
                    theirs->text("resourceType") == parts_[at].type;
  if (!read) return failed(judgeSingle(answer), "Reading what this replaces");
  const std::string sent = withReferences(parts_[at].resource, known_);
  const Result<json::Value> mine = json::read(sent);
  const auto same = [](std::string_view a, std::string_view b) {
    return a == b || plainPlace(relativeLocation(b)) == a;
  };
  if (mine && compare(*mine, *theirs, same).empty()) {
    finish(at, storedAs(*theirs, 200));
    return conclude();
  }
  Verdict out = verdictOf(Act::Hold, About::Bundle,
                          "Somebody else changed in the record what this correction replaces. Both "
                          "versions are in `outbox show`. Releasing this replaces what is there "
                          "now.");
  out.evidence = evidenceOf(progress_[at].place, sent, *theirs);
  progress_[at].stage = Stage::Write;
  return failed(std::move(out), progress_[at].place);
}

std::optional<Verdict> Plan::takeBatch(const Answer& answer) {
  const std::vector<std::size_t> asked = ready();
  Verdict verdict = judge(answer, asked.size(), "batch");
  bool conflict = false;
  bool other = false;
  for (std::size_t i = 0; i < asked.size() && verdict.stored.size() == asked.size(); ++i) {
    const Stored& each = verdict.stored[i];
    const bool bound = parts_[asked[i]].wish == Wish::Replace && conflicts(each.status);
    if (bound) progress_[asked[i]].stage = Stage::Compare;
    if (stores(each.status)) finish(asked[i], each);
    conflict = conflict || bound;
    other = other || (!bound && !stores(each.status));
  }
  if (verdict.act == Act::Done || (conflict && !other)) return conclude();
  if (verdict.act == Act::Confirm) verdict.act = Act::RetryBounded;
  return failed(std::move(verdict), "Batch");
}

void Plan::finish(std::size_t at, Stored stored) {
  Progress& now = progress_[at];
  now.place = plainPlace(stored.location);
  now.stored = std::move(stored);
  const bool lost = now.place.empty() && !parts_[at].condition.empty();
  now.stage = lost ? Stage::Place : Stage::Done;
  if (!lost) known_[parts_[at].name] = now.place;
}

/// Done when every part is; until then it goes on.
std::optional<Verdict> Plan::conclude() {
  const bool all = std::all_of(progress_.begin(), progress_.end(),
                               [](const Progress& each) { return each.stage == Stage::Done; });
  if (!all) return std::nullopt;
  Verdict out = verdictOf(Act::Done, About::Bundle, "");
  out.stored = stored();
  return out;
}

std::vector<Stored> Plan::stored() const {
  std::vector<Stored> out;
  for (const Progress& each : progress_) {
    out.push_back(each.stage == Stage::Done ? each.stored : Stored{});
  }
  return out;
}

/// What failed, and what of the visit is in the record already. Nothing is taken back: a person
/// decides, and what passes is tried again from here.
Verdict Plan::failed(Verdict verdict, const std::string& what) {
  std::size_t done = 0;
  std::string named;
  for (std::size_t i = 0; i < parts_.size(); ++i) {
    Progress& each = progress_[i];
    // Whether a create arrived is not known: it is looked for before it is sent again.
    if (each.stage == Stage::Write && each.place.empty()) {
      each.stage = firstStage(parts_[i], strategy_);
    }
    if (each.stage != Stage::Done) continue;
    if (!isShared(parts_[i].type) && ++done <= kNamed) named += (done > 1 ? ", " : "") + each.place;
  }
  verdict.stored.clear();
  verdict.reason = what + ": " + verdict.reason;
  if (done == 0) return verdict;
  verdict.stored = stored();
  if (verdict.act == Act::Refuse) verdict.act = Act::Hold;
  verdict.reason += " Of " + std::to_string(parts_.size()) + " resources " + std::to_string(done) +
                    " of this visit are in the record already: " + named +
                    (done > kNamed ? ", and more." : ".");
  if (verdict.act == Act::Hold) verdict.reason += " So the visit is incomplete there.";
  return verdict;
}

}  // namespace footbridge::deliver
