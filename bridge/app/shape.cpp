#include "app/shape.hpp"

#include <algorithm>
#include <string>
#include <vector>

#include "core/text.hpp"

namespace footbridge::app {
namespace {

Issue problem(std::string text, std::string mend) {
  return {Severity::Error, IssueType::Value, "shape", "", std::move(text), std::move(mend)};
}

Issue noRealm(const std::string& name, const Tables& tables) {
  std::vector<std::string> names;
  std::string all;
  for (const Realm& realm : tables.realms) {
    names.push_back(realm.id);
    all += (all.empty() ? "" : ", ") + realm.id;
  }
  const std::string_view close = nearest(name, names);
  return problem("There is no realm \"" + printable(name) + "\".",
                 (close.empty() ? "" : "Did you mean " + std::string(close) + "? ") +
                     "There are: " + all + ".");
}

package::Claims claimsOf(std::string_view name) {
  if (name == "ours") return package::Claims::Ours;
  if (name == "checked") return package::Claims::Checked;
  return name == "all" ? package::Claims::All : package::Claims::None;
}

}  // namespace

const std::string& releaseOf(const config::Shape& said, const config::Shape& configured) {
  return said.fhir.empty() ? configured.fhir : said.fhir;
}

Issues chooseShape(const config::Shape& said, const config::Shape& configured, const Tables& tables,
                   package::BundleOptions& options) {
  const auto chosen = [](const std::string& first, const std::string& second) {
    return first.empty() ? second : first;
  };
  Issues out;
  const std::string realm = chosen(said.realm, configured.realm);
  if (!realm.empty()) options.realm = realm;
  if (tables.realm(options.realm) == nullptr) out.push_back(noRealm(options.realm, tables));
  options.claims = claimsOf(chosen(said.profiles, configured.profiles));
  const bool five = releaseOf(said, configured) == "5.0";
  options.edition = five ? package::Edition::R5 : package::Edition::R4;
  if (five && options.claims != package::Claims::None) {
    out.push_back(problem("The profiles are of FHIR R4 and cannot be claimed in FHIR 5.0.",
                          "Leave out --profiles or --fhir, or their keys of the destination."));
  }
  return out;
}

}  // namespace footbridge::app
