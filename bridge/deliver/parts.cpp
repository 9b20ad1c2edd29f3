#include "deliver/parts.hpp"

#include <algorithm>
#include <charconv>
#include <set>

namespace footbridge::deliver {
namespace {

constexpr std::string_view kReference = "\"reference\":\"";

Issue unusable(std::string text) {
  return {Severity::Error,
          IssueType::Structure,
          "deliver",
          "",
          std::move(text),
          "This is a fault of Footbridge: keep the bundle (`outbox show`) and report it."};
}

std::string_view slice(std::string_view text, const json::Value& value) {
  return text.substr(value.span.begin, value.span.end - value.span.begin);
}

/// Calls `each` with the place and the text of every reference. What is written by us holds no
/// white space between name and value, and no quote inside a reference.
template <class Each>
void forReferences(std::string_view resource, Each&& each) {
  for (std::size_t at = resource.find(kReference); at != std::string_view::npos;
       at = resource.find(kReference, at)) {
    at += kReference.size();
    each(at, resource.substr(at, resource.find('"', at) - at));
  }
}

void takeRequest(const json::Value& request, Part& out) {
  const std::string_view url = request.text("url");
  const std::size_t question = url.find('?');
  if (request.text("method") == "POST") {
    out.condition = request.text("ifNoneExist");
  } else if (question != std::string_view::npos) {
    out.wish = Wish::Update;
    out.condition = url.substr(question + 1);
  } else {
    out.wish = Wish::Replace;
    out.place = url;
    out.match = request.text("ifMatch");
  }
}

void takeNeeds(const std::set<std::string, std::less<>>& names, Part& out) {
  forReferences(out.resource, [&](std::size_t, std::string_view reference) {
    if (!reference.starts_with("Patient?") && names.count(reference) == 0) return;
    const bool listed = std::find(out.needs.begin(), out.needs.end(), reference) != out.needs.end();
    if (!listed && reference != out.name) out.needs.emplace_back(reference);
  });
}

/// Whether every part's turn comes when each waits for what it refers to.
bool orderable(const std::vector<Part>& parts) {
  std::set<std::string, std::less<>> gone;
  std::size_t before = parts.size() + 1;
  while (gone.size() < parts.size() && before != gone.size()) {
    before = gone.size();
    for (const Part& each : parts) {
      const bool free =
          std::all_of(each.needs.begin(), each.needs.end(), [&gone](const std::string& need) {
            return need.starts_with("Patient?") || gone.count(need) > 0;
          });
      if (free) gone.insert(each.name);
    }
  }
  return gone.size() == parts.size();
}

/// Percent-encoding undone (RFC 3986 section 2.1).
std::string decoded(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    unsigned value = 0;
    const char* const digits = text.data() + i + 1;
    const bool encoded = text[i] == '%' && i + 2 < text.size() &&
                         std::from_chars(digits, digits + 2, value, 16).ptr == digits + 2;
    out += encoded ? static_cast<char>(value) : text[i];
    if (encoded) i += 2;
  }
  return out;
}

}  // namespace

Result<std::vector<Part>> partsOf(std::string_view bundle) {
  const Result<json::Value> read = json::read(bundle);
  if (!read) return unusable("The bundle cannot be read.");
  std::vector<Part> out;
  std::set<std::string, std::less<>> names;
  for (const json::Value& entry : read->list("entry")) {
    const json::Value* resource = entry.member("resource");
    const json::Value* request = entry.member("request");
    if (resource == nullptr || request == nullptr) return unusable("An entry holds no request.");
    Part& part = out.emplace_back();
    part.name = entry.text("fullUrl");
    part.type = resource->text("resourceType");
    part.resource = slice(bundle, *resource);
    part.request = slice(bundle, *request);
    takeRequest(*request, part);
    if (!names.insert(part.name).second) return unusable("Two entries have one fullUrl.");
  }
  if (out.empty()) return unusable("The bundle holds nothing.");
  for (Part& part : out) takeNeeds(names, part);
  if (!orderable(out)) return unusable("Its resources refer to each other in a circle.");
  return out;
}

std::string withReferences(std::string_view resource, const References& known) {
  std::string out;
  std::size_t done = 0;
  forReferences(resource, [&](std::size_t at, std::string_view reference) {
    const auto found = known.find(reference);
    if (found == known.end()) return;
    out += resource.substr(done, at - done);
    out += found->second;
    done = at + reference.size();
  });
  return out += resource.substr(done);
}

std::string withId(std::string_view resource, std::string_view id) {
  const Result<json::Value> read = json::read(resource);
  if (read && read->member("id") != nullptr) return std::string(resource);
  return "{\"id\":\"" + std::string(id) + "\"," + std::string(resource.substr(1));
}

bool meets(const json::Value& resource, std::string_view condition) {
  const std::string token = decoded(condition.substr(condition.find('=') + 1));
  const bool tag = condition.starts_with("_tag=");
  const json::Value* holder = tag ? resource.member("meta") : &resource;
  if (holder == nullptr) return false;
  const json::Array& all = holder->list(tag ? "tag" : "identifier");
  return std::any_of(all.begin(), all.end(), [&](const json::Value& each) {
    return std::string(each.text("system")) + "|" +
               std::string(each.text(tag ? "code" : "value")) ==
           token;
  });
}

bool isShared(std::string_view type) { return type == "Patient" || type == "Device"; }

std::string plainPlace(std::string_view location) {
  const std::string_view head = location.substr(0, location.find("/_history/"));
  const std::size_t slash = head.find('/');
  if (slash == std::string_view::npos || slash == 0) return {};
  const std::string_view id = head.substr(slash + 1);
  const bool plain =
      !id.empty() && id.size() <= 64 && std::all_of(id.begin(), id.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
               c == '-' || c == '.';
      });
  return plain ? std::string(head) : std::string();
}

}  // namespace footbridge::deliver
