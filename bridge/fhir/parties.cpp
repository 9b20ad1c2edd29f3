#include "fhir/parties.hpp"

#include <algorithm>

namespace footbridge::fhir {
namespace {

using json::Value;

class Parties {
 public:
  Parties(Draft& draft, const Gathered& group, const Entries& entries)
      : draft_(draft), entries_(entries) {
    if (group.report.resource != nullptr) all_.push_back(&group.report);
    for (const Entry& entry : group.observations) all_.push_back(&entry);
  }

  void put() {
    draft_.locate("/performer", placeOf("performer"));
    draft_.locate("/organization", placeOf("performer"));
    for (const std::string_view list : {"performer", "resultsInterpreter"}) {
      for (const Entry* entry : all_) {
        for (const Value& each : entry->resource->list(list)) take(*entry, each, list);
      }
    }
    putLinks();
  }

 private:
  std::string placeOf(std::string_view element) const {
    return (all_.empty() ? "" : all_.front()->place + " ") + std::string(element);
  }

  Scope scopeOf(const Entry& entry) const { return {*entry.resource, &entries_, entry.container}; }

  void take(const Entry& entry, const Value& reference, std::string_view element) {
    const Scope scope = scopeOf(entry);
    const Value* found = scope.resolve(reference);
    const std::string type = typeOf(reference, found);
    const std::string place = entry.place + " " + std::string(element);
    if (type == "Organization" || type == "CareTeam") {
      putOrganization(scope, reference, place);
    } else if (type == "PractitionerRole" && found != nullptr) {
      takeRole(entry, *found, place);
    } else {
      putPerson(scope, reference, place);
    }
  }

  /// The first that has a name or an identifier.
  bool putPerson(const Scope& scope, const Value& reference, const std::string& place) {
    if (draft_.holds("/performer")) return false;
    putParty(draft_, scope, reference, "/performer", place);
    return draft_.holds("/performer");
  }

  void putOrganization(const Scope& scope, const Value& reference, const std::string& place) {
    if (!draft_.holds("/organization")) putParty(draft_, scope, reference, "/organization", place);
  }

  /// Who, as what, for whom.
  void takeRole(const Entry& entry, const Value& role, const std::string& place) {
    const Scope scope = scopeOf(entry);
    const Value* person = role.member("practitioner");
    const json::Array& codes = role.list("code");
    const bool put = person != nullptr && putPerson(scope, *person, place);
    if (put && !codes.empty()) putRole(codes.front(), place);
    const Value* organization = role.member("organization");
    if (organization != nullptr) putOrganization(scope, *organization, place);
  }

  void putRole(const Value& code, const std::string& place) {
    std::string_view text = code.text("text");
    for (const Value& coding : code.list("coding")) {
      if (text.empty()) text = coding.text("display");
    }
    draft_.putText("/performer/role", text, place);
  }

  void putLinks() {
    bool met = false;
    bool asked = false;
    for (const Entry* entry : all_) {
      const Value* encounter = entry->resource->member("encounter");
      if (encounter != nullptr && !met) {
        met = true;
        putEncounter(*entry, *encounter);
      }
      const json::Array& orders = entry->resource->list("basedOn");
      if (orders.empty() || asked) continue;
      asked = true;
      putLink(draft_, scopeOf(*entry), orders.front(), "/order", entry->place + " basedOn");
    }
  }

  void putEncounter(const Entry& entry, const Value& encounter) {
    const Scope scope = scopeOf(entry);
    const std::string place = entry.place + " encounter";
    putLink(draft_, scope, encounter, "/encounter", place);
    const Value* found = scope.resolve(encounter);
    const Value* provider = found == nullptr ? nullptr : found->member("serviceProvider");
    if (provider != nullptr) putOrganization(scope, *provider, place);
  }

  Draft& draft_;
  const Entries& entries_;
  std::vector<const Entry*> all_;
};

}  // namespace

void putParties(Draft& draft, const Gathered& group, const Entries& entries) {
  Parties(draft, group, entries).put();
}

}  // namespace footbridge::fhir
