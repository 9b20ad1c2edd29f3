#include "fhir/gather.hpp"

#include <algorithm>
#include <array>
#include <optional>
#include <set>

#include "fhir/head.hpp"

namespace footbridge::fhir {
namespace {

constexpr std::size_t kDay = 10;  ///< "2026-10-05"
constexpr char kBetween = '\n';

std::string referenceKey(const json::Value& reference) {
  if (const json::Value* identifier = reference.member("identifier")) return tokenOf(*identifier);
  const json::Value searched = searchedBy(reference);
  if (!searched.isNull()) return tokenOf(searched);
  return std::string(reference.text("reference"));
}

std::string encounterOf(const json::Value& resource) {
  const json::Value* encounter = resource.member("encounter");
  return encounter == nullptr ? std::string{} : referenceKey(*encounter);
}

/// What of a bundle goes together before it is known with what else: a panel with its members, or
/// one Observation.
struct Unit {
  std::vector<std::size_t> members;  ///< the first one leads
  std::string subject;
  std::string encounter;
  std::string day;
};

class Gatherer {
 public:
  Gatherer(const json::Value& bundle, const Entries& entries)
      : entries_(entries),
        all_(entriesOf(bundle, "Observation")),
        reports_(entriesOf(bundle, "DiagnosticReport")),
        taken_(all_.size()) {
    for (std::size_t i = 0; i < all_.size(); ++i) places_.emplace(all_[i].resource, i);
  }

  std::vector<Gathered> gather(const std::function<bool(const json::Value&)>& known) {
    for (const Entry& report : reports_) takeReport(report, known);
    std::vector<Unit> loose;
    takePanels(loose);
    for (std::size_t i = 0; i < all_.size(); ++i) {
      if (!taken_[i]) loose.push_back(unitOf({i}));
    }
    // What has an encounter first: the others may belong to it.
    std::stable_partition(loose.begin(), loose.end(),
                          [](const Unit& unit) { return !unit.encounter.empty(); });
    for (Unit& unit : loose) join(std::move(unit));
    return finished();
  }

 private:
  Scope scopeOf(const Entry& entry) const { return {*entry.resource, &entries_, entry.container}; }

  /// Adds what the references of a list mean, and their members.
  void follow(const Entry& from, std::string_view list, std::vector<std::size_t>& out,
              std::set<std::size_t>& seen) const {
    std::vector<std::pair<const Entry*, std::string_view>> open{{&from, list}};
    while (!open.empty()) {
      const auto [entry, name] = open.back();
      open.pop_back();
      for (const json::Value& reference : entry->resource->list(name)) {
        const auto found = places_.find(scopeOf(*entry).resolve(reference));
        if (found == places_.end() || !seen.insert(found->second).second) continue;
        out.push_back(found->second);
        open.emplace_back(&all_[found->second], "hasMember");
      }
    }
  }

  void takeReport(const Entry& report, const std::function<bool(const json::Value&)>& known) {
    Unit unit{{},
              subjectOf(report, entries_),
              encounterOf(*report.resource),
              std::string(effectiveOf(*report.resource).substr(0, kDay))};
    std::set<std::size_t> seen;
    follow(report, "result", unit.members, seen);
    bool some = false;
    for (const std::size_t member : unit.members) {
      taken_[member] = true;
      some = some || known(*all_[member].resource);
    }
    leads_.push_back(report);
    if (some) return add(std::move(unit));
    units_.push_back(std::move(unit));
  }

  /// Panels that no other one has as a member.
  void takePanels(std::vector<Unit>& out) {
    std::set<std::size_t> inner;
    std::set<std::size_t> seen;
    for (std::size_t i = 0; i < all_.size(); ++i) {
      for (const json::Value& reference : all_[i].resource->list("hasMember")) {
        const auto found = places_.find(scopeOf(all_[i]).resolve(reference));
        if (found != places_.end() && found->second != i) inner.insert(found->second);
      }
    }
    for (std::size_t i = 0; i < all_.size(); ++i) {
      if (taken_[i] || inner.contains(i) || all_[i].resource->list("hasMember").empty()) continue;
      std::vector<std::size_t> members{i};
      seen.insert(i);
      follow(all_[i], "hasMember", members, seen);
      std::erase_if(members, [this](std::size_t member) { return bool(taken_[member]); });
      for (const std::size_t member : members) taken_[member] = true;
      out.push_back(unitOf(std::move(members)));
    }
  }

  /// What the first member that says it says.
  Unit unitOf(std::vector<std::size_t> members) const {
    Unit out{std::move(members), {}, {}, {}};
    for (const std::size_t i : out.members) {
      const json::Value& resource = *all_[i].resource;
      if (out.subject.empty()) out.subject = subjectOf(all_[i], entries_);
      if (out.encounter.empty()) out.encounter = encounterOf(resource);
      if (out.day.empty()) out.day = effectiveOf(resource).substr(0, kDay);
    }
    return out;
  }

  /// To the one that it matches; beside those before it if there is none, or more than one.
  void join(Unit unit) {
    const std::string day = unit.subject + kBetween + unit.day;
    const std::string meeting = unit.subject + kBetween + unit.encounter;
    std::vector<std::size_t> fitting;
    for (const auto* found : unit.encounter.empty()
                                 ? std::array{&days_[day], &none_}
                                 : std::array{&meetings_[meeting], &dayOnly_[day]}) {
      fitting.insert(fitting.end(), found->begin(), found->end());
    }
    // Several without a report of their own stay together, whatever else is there.
    const std::string whole = meeting + kBetween + unit.day;
    const auto own = own_.find(whole);
    if (fitting.size() != 1 && own != own_.end()) fitting = {own->second};
    if (fitting.size() != 1) {
      own_.emplace(whole, units_.size());
      return add(std::move(unit));
    }
    std::vector<std::size_t>& members = units_[fitting.front()].members;
    members.insert(members.end(), unit.members.begin(), unit.members.end());
  }

  /// More than two that would fit are not told apart from two.
  void add(Unit unit) {
    const auto note = [this](std::vector<std::size_t>& places) {
      if (places.size() < 2) places.push_back(units_.size());
    };
    const std::string day = unit.subject + kBetween + unit.day;
    note(days_[day]);
    if (unit.encounter.empty()) {
      note(dayOnly_[day]);
    } else {
      note(meetings_[unit.subject + kBetween + unit.encounter]);
    }
    units_.push_back(std::move(unit));
  }

  std::vector<Gathered> finished() {
    std::vector<Gathered> out;
    for (std::size_t i = 0; i < units_.size(); ++i) {
      std::sort(units_[i].members.begin(), units_[i].members.end());
      Gathered& next = out.emplace_back();
      if (i < leads_.size()) next.report = leads_[i];
      for (const std::size_t member : units_[i].members) next.observations.push_back(all_[member]);
    }
    return out;
  }

  const Entries& entries_;
  std::vector<Entry> all_;
  std::vector<Entry> reports_;
  std::vector<bool> taken_;
  std::map<const json::Value*, std::size_t> places_;
  std::vector<Unit> units_;  ///< those of reports first
  std::vector<Entry> leads_;
  using Places = std::map<std::string, std::vector<std::size_t>>;
  Places days_;      ///< of units, by subject and day
  Places dayOnly_;   ///< the same of those without an encounter
  Places meetings_;  ///< by subject and encounter
  std::vector<std::size_t> none_;
  std::map<std::string, std::size_t> own_;  ///< of those without a report
};

}  // namespace

std::vector<Gathered> gather(const json::Value& bundle, const Entries& entries,
                             const std::function<bool(const json::Value&)>& known) {
  return Gatherer(bundle, entries).gather(known);
}

std::string subjectOf(const Entry& entry, const Entries& entries) {
  const json::Value* subject = entry.resource->member("subject");
  if (subject == nullptr) return {};
  const json::Value* patient = Scope{*entry.resource, &entries, entry.container}.resolve(*subject);
  const json::Value* logical = subject->member("identifier");
  if (patient == nullptr && logical != nullptr) patient = entries.patientOf(*logical);
  if (patient != nullptr && !patient->list("identifier").empty()) {
    return tokenOf(patient->list("identifier").front());
  }
  return referenceKey(*subject);
}

std::string_view effectiveName(const json::Value& resource) {
  for (const std::string_view name : {"effectiveDateTime", "effectiveInstant", "effectivePeriod"}) {
    if (resource.member(name) != nullptr) return name;
  }
  return {};
}

std::string_view effectiveOf(const json::Value& resource) {
  const json::Value* period = resource.member("effectivePeriod");
  if (period != nullptr) return period->text("start");
  const std::string_view name = effectiveName(resource);
  return name.empty() ? std::string_view{} : resource.text(name);
}

}  // namespace footbridge::fhir
