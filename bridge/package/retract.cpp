#include "package/retract.hpp"

#include <algorithm>
#include <vector>

#include "json/value.hpp"
#include "json/writer.hpp"

namespace footbridge::package {
namespace {

constexpr std::string_view kBefore = ",\"status\":\"";
constexpr std::string_view kConclusion = ",\"conclusion\":\"";

Issue notOurs() {
  return {Severity::Error,
          IssueType::Structure,
          "correction",
          "",
          "The bundle of the earlier revision is not one of this program's.",
          "See in the record what the correction no longer says, and withdraw it there."};
}

std::string_view textOf(const json::Value& value, std::string_view in) {
  return in.substr(value.span.begin, value.span.end - value.span.begin);
}

const json::Array* entriesOf(const json::Value& bundle) {
  const json::Value* entries = bundle.member("entry");
  return entries == nullptr ? nullptr : entries->asArray();
}

/// "Observation?identifier=...", from a conditional create or a conditional update.
std::string target(const json::Value& request) {
  const std::string url(request.text("url"));
  return request.text("method") == "PUT" ? url
                                         : url + "?" + std::string(request.text("ifNoneExist"));
}

/// Replaces the status that is told to people, first at `from` or later and before `to`.
void sayWithdrawn(std::string& text, const std::string& status, std::size_t from, std::size_t to) {
  const std::string spoken = "Status: " + status + ".";
  const std::size_t said = text.find(spoken, from);
  if (said < to) text.replace(said, spoken.size(), "Status: entered-in-error, withdrawn.");
}

/// The resource with its status, and the word for it in narrative and conclusion, replaced; "" if
/// it has none where this program writes it: behind the identifier.
std::string withdrawn(const json::Value& resource, std::string_view in) {
  const json::Value* identifier = resource.member("identifier");
  if (identifier == nullptr || identifier->asArray() == nullptr) return {};
  std::string out(textOf(resource, in));
  std::size_t at = identifier->span.end - resource.span.begin;
  if (std::string_view(out).substr(at, kBefore.size()) != kBefore) return {};
  at += kBefore.size();
  const std::size_t end = out.find('"', at);
  const std::string status = out.substr(at, end - at);
  const std::size_t conclusion = out.find(kConclusion, end);
  if (conclusion != std::string::npos) {
    const std::size_t begin = conclusion + kConclusion.size();
    sayWithdrawn(out, status, begin, begin + 1);
  }
  out.replace(at, end - at, "entered-in-error");
  sayWithdrawn(out, status, 0, at);
  return out;
}

/// The entry as it has to be sent now, without a comma; nothing if it needs no sending.
std::string retraction(const json::Value& entry, std::string_view in) {
  const json::Value& resource = *entry.member("resource");
  const std::string_view type = resource.text("resourceType");
  // What the withdrawn point at has to be in the bundle, too.
  if (type == "Device" || type == "Patient") return std::string(textOf(entry, in));
  if (type != "Observation" && type != "DiagnosticReport") return {};
  const std::string content = withdrawn(resource, in);
  if (content.empty()) return {};
  std::string out = "{\"fullUrl\":";
  json::appendQuoted(out, entry.text("fullUrl"));
  ((out += ",\"resource\":") += content) += ",\"request\":{\"method\":\"PUT\",\"url\":";
  json::appendQuoted(out, target(*entry.member("request")));
  return out + "}}";
}

bool whole(const json::Value& entry) {
  const json::Value* resource = entry.member("resource");
  return resource != nullptr && entry.member("request") != nullptr;
}

}  // namespace

Result<Retractions> retractions(std::string_view earlier, std::vector<std::string> kept) {
  const Result<json::Value> before = json::read(earlier);
  const json::Array* theirs = before ? entriesOf(*before) : nullptr;
  if (theirs == nullptr) return notOurs();
  std::sort(kept.begin(), kept.end());
  Retractions out;
  for (const json::Value& entry : *theirs) {
    if (!whole(entry)) return notOurs();
    const std::string name(entry.text("fullUrl"));
    if (std::binary_search(kept.begin(), kept.end(), name)) continue;
    const std::string text = retraction(entry, earlier);
    const std::string_view type = entry.member("resource")->text("resourceType");
    if (text.empty() && type == "Observation") return notOurs();
    if (!text.empty()) (out.entries += ',') += text;
    if (type == "Observation" || type == "DiagnosticReport") out.targets.push_back(name);
  }
  return out;
}

Result<std::string> withRetractions(std::string_view bundle, std::string_view earlier) {
  const Result<json::Value> now = json::read(bundle);
  const json::Array* mine = now ? entriesOf(*now) : nullptr;
  if (mine == nullptr) return notOurs();
  std::vector<std::string> kept;
  for (const json::Value& entry : *mine) kept.emplace_back(entry.text("fullUrl"));
  const Result<Retractions> added = retractions(earlier, std::move(kept));
  if (!added) return added.issues();
  std::string out(bundle);
  out.insert(now->member("entry")->span.end - 1, added->entries);
  return out;
}

}  // namespace footbridge::package
