#include "app/access.hpp"

#include <arpa/inet.h>

#include <algorithm>
#include <array>
#include <charconv>

namespace footbridge::app {
namespace {

using serve::Head;
using serve::refusal;
using serve::Response;
using serve::Role;

/// Whom a route is for. The socket of this machine may do everything: who can reach it can read the
/// key of the outbox.
enum class For : std::uint8_t { Anyone, Bearers, Roles, Local };

struct Row {
  Route route;
  std::string_view pattern;  ///< method and path; {row} is a number
  For whom;
  std::array<std::optional<Role>, 3> roles;
};

constexpr std::array<Row, 14> kRows{{
    {Route::Submit, "POST /assessments", For::Roles, {Role::Submit}},
    {Route::Find, "GET /assessments", For::Roles, {Role::Submit, Role::Look, Role::Operate}},
    {Route::Follow,
     "GET /assessments/{row}",
     For::Roles,
     {Role::Submit, Role::Look, Role::Operate}},
    {Route::Bundle, "GET /assessments/{row}/bundle", For::Roles, {Role::Look}},
    {Route::Outbox, "GET /outbox", For::Roles, {Role::Look, Role::Operate}},
    {Route::Retry, "POST /outbox/{row}/retry", For::Roles, {Role::Operate}},
    {Route::Release, "POST /outbox/{row}/release", For::Roles, {Role::Operate}},
    {Route::Drop, "POST /outbox/{row}/drop", For::Roles, {Role::Operate}},
    {Route::Command, "POST /outbox/command", For::Local, {}},
    {Route::Audit, "GET /audit", For::Roles, {Role::Audit}},
    {Route::Metrics, "GET /metrics", For::Roles, {Role::Look, Role::Operate}},
    {Route::Openapi, "GET /openapi.json", For::Bearers, {}},
    {Route::Live, "GET /health/live", For::Anyone, {}},
    {Route::Ready, "GET /health/ready", For::Bearers, {}},
}};

const Row& rowOf(Route route) { return kRows[static_cast<std::size_t>(route)]; }

std::optional<std::int64_t> rowNumber(std::string_view text) {
  std::int64_t out = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), out);
  if (read.ec != std::errc() || read.ptr != text.data() + text.size() || out < 1) {
    return std::nullopt;
  }
  return out;
}

/// The number in the place of {row} (0 where the pattern has none), or nothing.
std::optional<std::int64_t> matches(std::string_view pattern, std::string_view path) {
  constexpr std::string_view kNumber = "{row}";
  const std::size_t at = pattern.find(kNumber);
  if (at == std::string_view::npos) return pattern == path ? std::optional(0L) : std::nullopt;
  const std::string_view after = pattern.substr(at + kNumber.size());
  if (path.size() < at + after.size() || !path.starts_with(pattern.substr(0, at))) {
    return std::nullopt;
  }
  if (!path.ends_with(after)) return std::nullopt;
  return rowNumber(path.substr(at, path.size() - at - after.size()));
}

/// A name by which a browser can reach this machine only. Without tokens any other is refused, so
/// that a page from elsewhere cannot give our address a name of its own and read the answers.
bool namesThisMachine(std::string_view host) {
  const std::size_t colon = host.rfind(':');
  if (colon != std::string_view::npos && host.find(']', colon) == std::string_view::npos) {
    host = host.substr(0, colon);
  }
  if (host == "localhost" || host == "[::1]") return true;
  in_addr address{};
  return host.starts_with("127.") && ::inet_pton(AF_INET, std::string(host).c_str(), &address) == 1;
}

/// Whether a browser sends this for a page that is not ours. It says so with everything that may
/// change something, and a page from elsewhere may send that without being allowed to read the
/// answer.
bool fromElsewhere(const Head& head) {
  const std::string_view origin = head.field("origin");
  const std::size_t host = origin.find("://");
  if (origin.empty()) return false;
  return host == std::string_view::npos || origin.substr(host + 3) != head.field("host");
}

Response unauthorised(std::string text, std::chrono::milliseconds delay) {
  Response out = refusal(401, IssueType::Security, std::move(text),
                         "Send `Authorization: Bearer TOKEN`, with a token that `footbridge tokens "
                         "new` made.");
  out.fields.emplace_back("WWW-Authenticate", "Bearer");
  out.delay = delay;
  return out;
}

std::string_view bearerOf(const Head& head) {
  std::string_view field = head.field("authorization");
  if (field.size() < 7 || (field[0] != 'B' && field[0] != 'b')) return {};
  if (field.substr(1, 6) != "earer ") return {};
  return field.substr(7);
}

std::optional<Response> noPlace(const Found& found) {
  if (found.methods.empty()) {
    return refusal(404, IssueType::NotFound, "There is nothing at this path.",
                   "/openapi.json describes what there is.");
  }
  Response out = refusal(405, IssueType::NotSupported, "This cannot be done with that path.",
                         "Methods: " + found.methods + ".");
  out.fields.emplace_back("Allow", found.methods);
  return out;
}

}  // namespace

Found findPlace(const std::string& method, const std::string& path) {
  Found out;
  for (const Row& row : kRows) {
    const std::size_t space = row.pattern.find(' ');
    const auto number = matches(row.pattern.substr(space + 1), path);
    if (!number) continue;
    const std::string_view verb = row.pattern.substr(0, space);
    (out.methods += out.methods.empty() ? "" : ", ") += verb;
    if (verb == method) out.place = Place{row.route, *number};
  }
  return out;
}

std::string_view patternOf(Route route) { return rowOf(route).pattern; }

Issues Access::renew() {
  if (file_.empty()) return {};
  Result<std::vector<serve::Token>> tokens = serve::loadTokens(file_);
  if (!tokens) return std::move(tokens).issues();
  const std::scoped_lock lock(mutex_);
  tokens_ = *std::move(tokens);
  return {};
}

std::optional<Response> Access::identify(Head& head, Route route) {
  if (head.peer.local) {
    head.who = "local";
    return std::nullopt;
  }
  const Row& row = rowOf(route);
  if (row.whom == For::Anyone) {
    head.who = "anyone";
    return std::nullopt;
  }
  if (file_.empty()) {
    head.who = "anyone";
    if (fromElsewhere(head)) {
      return refusal(403, IssueType::Security, "Without tokens no page from elsewhere is served.",
                     "Ask from this machine itself, or set tokens_file in [serve].");
    }
    if (row.whom != For::Local && namesThisMachine(head.field("host"))) return std::nullopt;
    return refusal(421, IssueType::Security, "Without tokens only this machine is served.",
                   "Call it localhost or 127.0.0.1, or set tokens_file in [serve].");
  }
  head.who = "unknown";
  const std::string_view presented = bearerOf(head);
  if (presented.empty()) return unauthorised("Who asks has to be known.", {});
  const std::scoped_lock lock(mutex_);
  const serve::Token* token = serve::findToken(tokens_, presented);
  if (token == nullptr) {
    return unauthorised("There is no such token.",
                        guard_.wrong(head.peer.address, serve::Steady::now()));
  }
  guard_.right(head.peer.address);
  head.who = token->name;
  const bool may = row.whom == For::Bearers ||
                   std::any_of(row.roles.begin(), row.roles.end(),
                               [token](const auto& role) { return role && token->may(*role); });
  if (may) return std::nullopt;
  return refusal(403, IssueType::Security, "This token may not do that.",
                 "It takes a token with another role.");
}

std::optional<Response> Access::admit(Head& head) {
  const Found found = findPlace(head.method, head.path);
  // What there is, is told only to those who may ask anything at all.
  const Route route = found.place ? found.place->route : Route::Openapi;
  if (std::optional<Response> no = identify(head, route)) return no;
  if (!found.place) return noPlace(found);
  return std::nullopt;
}

}  // namespace footbridge::app
