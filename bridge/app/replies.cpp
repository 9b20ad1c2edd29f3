#include "app/replies.hpp"

#include <algorithm>

#include "app/rows.hpp"
#include "core/text.hpp"
#include "json/outcome.hpp"
#include "json/writer.hpp"

namespace footbridge::app {
namespace {

using serve::Response;

constexpr std::size_t kMostIssues = 10'000;  ///< after them only what became of each is told

std::string pathOf(std::int64_t row) { return "/assessments/" + std::to_string(row); }

bool any(const Settled& settled, Fate fate) {
  return std::any_of(settled.items.begin(), settled.items.end(),
                     [fate](const Item& item) { return item.fate == fate; });
}

/// What there is to say of the assessment as a whole.
Issue verdictOf(const Item& item) {
  const std::string follow = item.row == 0 ? "" : "Follow it at " + pathOf(item.row) + ".";
  switch (item.fate) {
    case Fate::Stored:
      return {Severity::Information,
              IssueType::Informational,
              "",
              item.place,
              "Stored; delivery begins at once.",
              follow};
    case Fate::Known:
      return {Severity::Information,
              IssueType::Informational,
              "",
              item.place,
              "Known already, with the same content; nothing was changed.",
              follow};
    case Fate::Held:
      return {Severity::Warning,
              IssueType::BusinessRule,
              "",
              item.place,
              "Stored, and held until a person has looked at it.",
              follow};
    case Fate::Differs:
      return {Severity::Error,
              IssueType::Duplicate,
              "",
              item.place,
              "This revision was taken before with other content, which stands.",
              "If this is a correction, send it with a higher revision. " + follow};
    case Fate::Tried:
      return {Severity::Information,
              IssueType::Informational,
              "",
              item.place,
              "A dry run: nothing was stored.",
              ""};
    case Fate::Failed:
      return {Severity::Fatal,
              IssueType::Transient,
              "",
              item.place,
              "Not stored.",
              "Send it again later: what is stored already is recognised."};
    case Fate::Refused:
      break;
  }
  return {Severity::Error,
          IssueType::BusinessRule,
          "",
          item.place,
          "Refused, for the errors named; nothing of it was stored.",
          "Mend it and send it again."};
}

int statusOf(const Settled& settled) {
  if (!settled.failures.empty() || any(settled, Fate::Failed)) return 503;
  if (any(settled, Fate::Refused)) return 422;
  if (any(settled, Fate::Differs)) return 409;
  return any(settled, Fate::Stored) || any(settled, Fate::Held) ? 201 : 200;
}

}  // namespace

/// Of a single assessment all places are within it.
Issues issuesOf(const Settled& settled) {
  Issues out = settled.failures;
  append(out, settled.remarks);
  std::size_t left = 0;
  for (Item item : settled.items) {
    if (settled.items.size() == 1) item.place.clear();
    for (Issue issue : item.issues) {
      if (out.size() >= kMostIssues) {
        ++left;
        continue;
      }
      // Places in a table name the row themselves.
      if (!issue.place.starts_with(item.place)) {
        const bool apart = !issue.place.empty() && issue.place[0] != '/';
        issue.place = item.place + (apart ? " " : "") + issue.place;
      }
      out.push_back(std::move(issue));
    }
    out.push_back(verdictOf(item));
  }
  if (settled.unlisted > 0) {
    out.push_back({Severity::Error, IssueType::TooLong, "", "",
                   std::to_string(settled.unlisted) + " more were refused and are not listed here.",
                   "Mend those that are named and send the whole again: what is stored already is "
                   "recognised."});
  }
  if (left > 0) {
    out.push_back({Severity::Warning, IssueType::TooLong, "", "",
                   std::to_string(left) + " further remarks are not listed here.",
                   "Send fewer assessments at once to see them."});
  }
  return out;
}

Result<Submission::Form> formOf(std::string_view mediaType) {
  std::string type(trimmed(mediaType.substr(0, mediaType.find(';'))));
  for (char& c : type) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + ('a' - 'A')) : c;
  if (type == "application/json") return Submission::Form::Detect;
  if (type == "application/x-ndjson") return Submission::Form::Lines;
  if (type == "application/fhir+json") return Submission::Form::Resources;
  if (type == "text/csv") return Submission::Form::Table;
  return Issue{Severity::Error,
               IssueType::NotSupported,
               "serve",
               "",
               "This media type is not taken.",
               "application/json, application/x-ndjson, application/fhir+json, or text/csv with "
               "?map=NAME."};
}

Response replyTo(const Settled& settled) {
  if (settled.tooMany) {
    return serve::refusal(
        413, IssueType::TooLong,
        "A dry run takes at most " + std::to_string(kMostTried) + " assessments at once.",
        "Send them in parts. Nothing was stored.");
  }
  Response out;
  out.status = statusOf(settled);
  const bool tried = any(settled, Fate::Tried);
  if (tried && out.status == 200) {
    out.body = settled.bundles;
    if (settled.items.size() > 1) out.type = "application/x-ndjson";
    return out;
  }
  out.body = json::operationOutcome(issuesOf(settled));
  if (out.status == 503) out.fields.emplace_back("Retry-After", "30");
  if (settled.items.size() == 1 && settled.items.front().row != 0) {
    out.fields.emplace_back("Location", pathOf(settled.items.front().row));
  }
  return out;
}

std::string rowsText(const std::vector<outbox::Row>& rows) {
  std::string out = "{\"deliveries\":[";
  for (std::size_t i = 0; i < rows.size(); ++i) (out += i == 0 ? "" : ",") += jsonRow(rows[i]);
  return out + "]}";
}

Response replyTo(const Issues& issues) {
  Response out;
  const IssueType type = issues.empty() ? IssueType::Exception : issues.front().type;
  out.status = type == IssueType::NotFound                                  ? 404
               : type == IssueType::BusinessRule                            ? 409
               : type == IssueType::NoStore || type == IssueType::Exception ? 503
                                                                            : 422;
  out.body = json::operationOutcome(issues);
  return out;
}

Response jsonReply(std::string body) {
  Response out;
  out.type = "application/json";
  out.body = std::move(body);
  return out;
}

}  // namespace footbridge::app
