#include "deliver/scopes.hpp"

#include <algorithm>

namespace footbridge::deliver {
namespace {

/// "system/Observation.crus" taken apart; a scope of another form has no letters.
struct Scope {
  std::string_view context;
  std::string_view type;
  std::string_view letters;
};

/// Permissions of SMART 1 as letters of SMART 2.
std::string_view lettersOf(std::string_view permission) {
  if (permission == "read") return "rs";
  if (permission == "write") return "cud";
  return permission == "*" ? "cruds" : permission.substr(0, permission.find('?'));
}

Scope scopeOf(std::string_view scope) {
  const std::size_t slash = scope.find('/');
  const std::size_t dot = scope.find('.', slash == std::string_view::npos ? 0 : slash);
  if (slash == std::string_view::npos || dot == std::string_view::npos) return {scope, {}, {}};
  return {scope.substr(0, slash), scope.substr(slash + 1, dot - slash - 1),
          lettersOf(scope.substr(dot + 1))};
}

bool covers(const std::vector<std::string_view>& granted, std::string_view asked) {
  if (std::find(granted.begin(), granted.end(), asked) != granted.end()) return true;
  const Scope wanted = scopeOf(asked);
  std::string letters;
  for (const std::string_view each : granted) {
    const Scope scope = scopeOf(each);
    const bool type = scope.type == wanted.type || scope.type == "*";
    // What is bound to a query covers only part.
    const bool whole = each.find('?') == std::string_view::npos;
    if (whole && type && scope.context == wanted.context) letters += scope.letters;
  }
  return !wanted.letters.empty() &&
         wanted.letters.find_first_not_of(letters) == std::string_view::npos;
}

}  // namespace

std::vector<std::string_view> words(std::string_view text) {
  std::vector<std::string_view> out;
  constexpr std::string_view kBlank = " \t\r\n";
  for (std::size_t at = text.find_first_not_of(kBlank); at != std::string_view::npos;) {
    const std::size_t end = std::min(text.find_first_of(kBlank, at), text.size());
    out.push_back(text.substr(at, end - at));
    at = text.find_first_not_of(kBlank, end);
  }
  return out;
}

std::string ungranted(std::string_view asked, std::string_view granted) {
  const std::vector<std::string_view> given = words(granted);
  std::string out;
  for (const std::string_view each : words(asked)) {
    if (given.empty() || covers(given, each)) continue;
    (out += out.empty() ? "" : " ") += each;
  }
  return out;
}

std::string ungrantedSentence(std::string_view scopes) {
  return "The token was granted for less than was asked for; not granted: " + std::string(scopes) +
         ". Have them registered for this client, or leave them out of scopes.";
}

}  // namespace footbridge::deliver
