#include "deliver/post.hpp"

#include "core/text.hpp"
#include "json/value.hpp"

namespace footbridge::deliver {
namespace {

Issue issue(IssueType type, std::string text, std::string_view mend) {
  return {Severity::Error, type, "deliver", "", std::move(text), std::string(mend)};
}

constexpr std::string_view kMendServer =
    "Mend what the record server names, or its configuration, and send again: it does no harm "
    "twice.";

/// Code and places of one issue of an OperationOutcome: never its text, which may name the patient.
std::string codeAndPlaces(const json::Value& said) {
  std::string out = " " + std::string(said.text("code"));
  for (const std::string_view name : {"expression", "location"}) {
    const json::Value* places = said.member(name);
    if (places == nullptr || places->asArray() == nullptr) continue;
    for (const json::Value& place : *places->asArray()) {
      if (const std::string* text = place.asString()) (out += " at ") += shortened(*text, 200);
    }
  }
  return out;
}

std::string whatWasSaid(const json::Value* outcome) {
  std::string out;
  const json::Value* issues = outcome == nullptr ? nullptr : outcome->member("issue");
  if (issues == nullptr || issues->asArray() == nullptr) return out;
  for (const json::Value& said : *issues->asArray()) {
    if (said.text("severity") != "information") out += codeAndPlaces(said) + ";";
  }
  if (!out.empty()) out.back() = '.';
  return out;
}

Issue refused(long status, const json::Value* body) {
  const std::string said =
      "The record server answered " + std::to_string(status) + "." + whatWasSaid(body);
  const bool later = status == 408 || status == 429 || status >= 500;
  if (!later) return issue(IssueType::BusinessRule, said, kMendServer);
  return issue(IssueType::Transient, said, "Send the same bundle again later: no harm twice.");
}

const json::Array* entriesOf(const json::Value* bundle) {
  const json::Value* entries = bundle == nullptr ? nullptr : bundle->member("entry");
  return entries == nullptr ? nullptr : entries->asArray();
}

/// How many answers a bundle has to get, or why it is none that can be sent.
Result<std::size_t> countEntries(std::string_view bundle) {
  const Result<json::Value> read = json::read(bundle);
  if (!read) {
    return issue(IssueType::Structure, "This is no JSON: " + read.issues().front().text,
                 "Send what `footbridge convert` writes: one bundle a line.");
  }
  const json::Array* entries = entriesOf(&*read);
  if (read->text("resourceType") != "Bundle" || read->text("type") != "transaction" ||
      entries == nullptr || entries->empty()) {
    return issue(IssueType::Structure, "This is no FHIR Bundle of type transaction with entries.",
                 "Send what `footbridge convert` writes: one bundle a line.");
  }
  return entries->size();
}

/// The server may answer 200 and yet have left entries out or refused some of them.
Result<Receipt> readEntries(const json::Array& entries, std::size_t wanted) {
  if (entries.size() != wanted) {
    return issue(IssueType::BusinessRule,
                 "The record server answered " + std::to_string(entries.size()) + " of " +
                     std::to_string(wanted) + " entries.",
                 "Check at the server what it holds of this assessment, then send again.");
  }
  Receipt out;
  for (std::size_t i = 0; i < entries.size(); ++i) {
    const json::Value* response = entries[i].member("response");
    const std::string_view status = response == nullptr ? "" : response->text("status");
    out.created += status.starts_with("201") ? 1 : 0;
    out.present += status.starts_with("200") ? 1 : 0;
    if (out.created + out.present == i + 1) continue;
    return issue(IssueType::BusinessRule,
                 "The record server answered entry " + std::to_string(i) + " with '" +
                     std::string(shortened(status, 40)) + "'." +
                     whatWasSaid(response == nullptr ? nullptr : response->member("outcome")),
                 kMendServer);
  }
  return out;
}

Result<Receipt> readAnswer(long status, const std::string& body, std::size_t wanted) {
  const Result<json::Value> answer = json::read(body);
  if (status != 200) return refused(status, answer ? &*answer : nullptr);
  const json::Array* entries = answer ? entriesOf(&*answer) : nullptr;
  if (entries != nullptr) return readEntries(*entries, wanted);
  return issue(IssueType::BusinessRule,
               "The record server answered 200 without a bundle: this may not be its FHIR base.",
               "Check the address.");
}

}  // namespace

Poster::Poster(std::string base) : transport_(serverAt(std::move(base)), -1) {}

Result<Receipt> Poster::post(std::string bundle) {
  const Result<std::size_t> wanted = countEntries(bundle);
  if (!wanted) return wanted.issues();
  Request request;
  request.method = "POST";
  request.body = std::move(bundle);
  const Answer answer = transport_.exchange(std::move(request));
  if (answer.wire == Wire::Answered) return readAnswer(answer.status, answer.body, *wanted);
  return Issue{Severity::Fatal,
               IssueType::Transient,
               "deliver",
               "",
               "The record server cannot be reached: " + answer.fault + ".",
               "Check the address and the network, then send again: it does no harm twice."};
}

}  // namespace footbridge::deliver
