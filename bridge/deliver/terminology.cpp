#include "deliver/terminology.hpp"

#include <algorithm>
#include <array>
#include <optional>

#include "deliver/transport.hpp"
#include "json/value.hpp"
#include "json/writer.hpp"

namespace footbridge::deliver {
namespace {

constexpr std::size_t kAtOnce = 8;  ///< codes, of two requests each
constexpr std::string_view kLoinc = "http://loinc.org";
// LOINC says that a term is out of use by a property of its own, and servers that hold it as it is
// published derive no "inactive" from it (seen with hapi-fhir-jpaserver-base 8.6.0; the name is
// that of "Using LOINC with FHIR", from memory).
constexpr std::string_view kLoincStatus = "STATUS";
constexpr std::string_view kDeprecated = "DEPRECATED";

Issue notAnswered(IssueType type, std::string text) {
  return {Severity::Fatal,
          type,
          "terminology",
          "",
          std::move(text),
          "Check the address, and that the server offers CodeSystem/$lookup and "
          "CodeSystem/$validate-code."};
}

std::string parameters(const AskedCode& asked, bool validates) {
  json::Writer out;
  const auto add = [&out](std::string_view name, std::string_view type, std::string_view value) {
    if (value.empty()) return;
    out.beginObject().member("name", name).member(type, value).endObject();
  };
  out.beginObject().member("resourceType", "Parameters").name("parameter").beginArray();
  add(validates ? "url" : "system", "valueUri", asked.system);
  add("code", "valueCode", asked.code);
  if (validates) add("display", "valueString", asked.display);
  if (!validates) add("property", "valueCode", "inactive");
  if (!validates && asked.system == kLoinc) add("property", "valueCode", kLoincStatus);
  out.endArray().endObject();
  return std::string(out.text());
}

/// The value of a parameter or part, whatever its type.
const json::Value* valueOf(const json::Value& parameter) {
  const json::Object* members = parameter.asObject();
  if (members == nullptr) return nullptr;
  for (const json::Member& member : *members) {
    if (member.first.starts_with("value")) return &member.second;
  }
  return nullptr;
}

const json::Value* named(const json::Value& holder, std::string_view list, std::string_view name) {
  for (const json::Value& each : holder.list(list)) {
    if (each.text("name") == name) return &each;
  }
  return nullptr;
}

std::string textOf(const json::Value& parameters, std::string_view name) {
  const json::Value* found = named(parameters, "parameter", name);
  const json::Value* value = found == nullptr ? nullptr : valueOf(*found);
  return value == nullptr || value->asString() == nullptr ? "" : *value->asString();
}

std::optional<bool> flagOf(const json::Value* holder) {
  const json::Value* value = holder == nullptr ? nullptr : valueOf(*holder);
  if (value == nullptr) return std::nullopt;
  if (const bool* flag = value->asBool()) return *flag;
  if (const std::string* text = value->asString()) return *text == "true";
  return std::nullopt;
}

std::string_view partText(const json::Value& property, std::string_view name) {
  const json::Value* part = named(property, "part", name);
  const json::Value* value = part == nullptr ? nullptr : valueOf(*part);
  return value == nullptr || value->asString() == nullptr ? ""
                                                          : std::string_view{*value->asString()};
}

/// The property "inactive" of a lookup, or the parameter of that name in newer releases, or what
/// LOINC has in its place.
bool isInactive(const json::Value& answer) {
  if (flagOf(named(answer, "parameter", "inactive")).value_or(false)) return true;
  for (const json::Value& each : answer.list("parameter")) {
    if (each.text("name") != "property") continue;
    const std::string_view name = partText(each, "code");
    if (name == "inactive" && flagOf(named(each, "part", "value")).value_or(false)) return true;
    if (name == kLoincStatus && partText(each, "value") == kDeprecated) return true;
  }
  return false;
}

bool sameButForCase(std::string_view a, std::string_view b) {
  const auto lower = [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; };
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [&](char x, char y) { return lower(x) == lower(y); });
}

/// Some servers find another name no more than worth a message and still say yes; of a synonym they
/// say yes without one.
bool agreesOn(const json::Value& judged, std::string_view asked, std::string_view theirs) {
  if (!flagOf(named(judged, "parameter", "result")).value_or(false)) return false;
  const bool remarked = !textOf(judged, "message").empty() && !theirs.empty();
  return !remarked || asked.empty() || sameButForCase(asked, theirs);
}

/// What an OperationOutcome says first.
std::string outcomeText(const json::Value& body) {
  const json::Array& issues = body.list("issue");
  if (issues.empty()) return {};
  const json::Value& issue = issues.front();
  const json::Value* details = issue.member("details");
  if (details != nullptr && !details->text("text").empty()) {
    return std::string(details->text("text"));
  }
  return std::string(issue.text("diagnostics"));
}

bool isA(const Result<json::Value>& body, std::string_view type) {
  return body && body->text("resourceType") == type;
}

/// One exchange of a code: which code, which of the two questions.
struct Question {
  std::size_t at = 0;
  bool validates = false;
};

Question questionOf(std::int64_t tag) { return {static_cast<std::size_t>(tag) / 2, tag % 2 == 1}; }

class Interview {
 public:
  Interview(const config::Server& server, const std::string& bearer,
            const std::vector<AskedCode>& codes)
      : transport_(server, -1), bearer_(bearer), codes_(codes), answers_(codes.size()) {}

  Result<std::vector<CodeAnswer>> run() {
    std::vector<CodeAnswer> out;
    for (std::size_t next = 0; next < codes_.size() || transport_.busy() > 0;) {
      for (; next < codes_.size() && transport_.busy() < 2 * kAtOnce; ++next) ask(next);
      for (Answer& answer : transport_.wait(std::chrono::seconds(1))) {
        if (answer.wire != Wire::Answered) {
          return notAnswered(IssueType::Transient,
                             "The terminology server cannot be reached: " + answer.fault + ".");
        }
        const Question question = questionOf(answer.tag);
        answers_[question.at][question.validates ? 1 : 0] = std::move(answer);
      }
    }
    for (const auto& [lookup, validate] : answers_) {
      Result<CodeAnswer> read = readAnswers(codes_[out.size()].display, lookup.status, lookup.body,
                                            validate.status, validate.body);
      if (!read) return std::move(read).issues();
      out.push_back(*std::move(read));
    }
    return out;
  }

 private:
  void ask(std::size_t at) {
    for (const bool validates : {false, true}) {
      Request request;
      request.tag = static_cast<std::int64_t>(2 * at + (validates ? 1 : 0));
      request.method = "POST";
      request.path = validates ? "/CodeSystem/$validate-code" : "/CodeSystem/$lookup";
      request.body = parameters(codes_[at], validates);
      request.bearer = bearer_;
      transport_.start(std::move(request));
    }
  }

  Transport transport_;
  const std::string& bearer_;
  const std::vector<AskedCode>& codes_;
  std::vector<std::array<Answer, 2>> answers_;
};

}  // namespace

// A server that does not know a code says so with a status of the 400s and an OperationOutcome;
// anything else that is no result is a fault of the server, of which nothing follows for the code.
Result<CodeAnswer> readAnswers(std::string_view asked, long lookupStatus, std::string_view lookup,
                               long validateStatus, std::string_view validate) {
  const Result<json::Value> found = json::read(lookup);
  const Result<json::Value> judged = json::read(validate);
  CodeAnswer out;
  const bool known = lookupStatus == 200 && isA(found, "Parameters");
  const bool missing = (lookupStatus == 400 || lookupStatus == 404 || lookupStatus == 422) &&
                       isA(found, "OperationOutcome");
  if (!known && !missing) {
    return notAnswered(IssueType::NotSupported,
                       "The terminology server answered $lookup with HTTP " +
                           std::to_string(lookupStatus) + " and no result.");
  }
  if (missing) {
    out.says = outcomeText(*found);
    return out;
  }
  out.display = textOf(*found, "display");
  if (validateStatus != 200 || !isA(judged, "Parameters")) {
    return notAnswered(IssueType::NotSupported,
                       "The terminology server answered $validate-code with HTTP " +
                           std::to_string(validateStatus) + " and no result.");
  }
  const bool agrees = agreesOn(*judged, asked, out.display);
  out.says = textOf(*judged, "message");
  const bool inactive = isInactive(*found) || isInactive(*judged);
  out.verdict = inactive ? Verdict::Inactive : agrees ? Verdict::Active : Verdict::WrongDisplay;
  return out;
}

Result<std::vector<CodeAnswer>> askTerminology(const config::Server& server,
                                               const std::string& bearer,
                                               const std::vector<AskedCode>& codes) {
  return Interview(server, bearer, codes).run();
}

std::string_view word(Verdict verdict) {
  static constexpr std::array<std::string_view, 4> kWords{"active", "inactive", "wrong display",
                                                          "unknown"};
  return kWords[static_cast<std::size_t>(verdict)];
}

}  // namespace footbridge::deliver
