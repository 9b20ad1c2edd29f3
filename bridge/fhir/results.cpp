#include "fhir/results.hpp"

#include <algorithm>
#include <array>
#include <set>

#include "core/time.hpp"
#include "csv/cells.hpp"
#include "csv/spread.hpp"
#include "csv/state.hpp"
#include "fhir/observation.hpp"
#include "fhir/parties.hpp"

namespace footbridge::fhir {
namespace {

using csv::Role;
using json::Value;

/// The status of a DiagnosticReport, or of a panel, as a letter of HL7 table 0123 (HL7/v2-to-fhir,
/// Table HL70123, read backwards); "" for what is not there to be filed.
std::string_view letterOf(std::string_view status) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 8> kLetters{
      {{"final", "F"},
       {"preliminary", "P"},
       {"partial", "R"},
       {"amended", "C"},
       {"corrected", "C"},
       {"appended", "C"},
       {"cancelled", "X"},
       {"entered-in-error", "X"}}};
  const auto found = std::find_if(kLetters.begin(), kLetters.end(),
                                  [status](const auto& row) { return row.first == status; });
  return found == kLetters.end() ? std::string_view{} : found->second;
}

/// A whole number above 0, as versions are counted.
bool counts(std::string_view text) {
  return !text.empty() && text.size() < 10 && text.front() != '0' &&
         text.find_first_not_of("0123456789") == std::string_view::npos;
}

class Results {
 public:
  Results(const Gathered& group, const Bundle& bundle, const Names& names)
      : group_(group),
        bundle_(bundle),
        codes_(names.codes()),
        draft_(names.tables(), codes_.map()) {}

  intake::Text read() {
    rows_ = rowsOf(draft_, group_, bundle_.entries, codes_);
    readIdentifier();
    readSubject();
    putParties(draft_, group_, bundle_.entries);
    csv::Cells head;
    readState(head);
    readTimes(head);
    if (!rows_.note.empty()) head.add(Role::Text, "/note", rows_.note, firstPlace() + " note");
    return visit(std::move(head));
  }

 private:
  const Value* report() const { return group_.report.resource; }
  const Tables& tables() const { return codes_.tables(); }
  std::string placeOf(std::string_view element) const {
    return group_.report.place + " " + std::string(element);
  }

  intake::Text visit(csv::Cells head) {
    std::vector<csv::Column> columns = head.columns;
    const std::size_t width = columns.size();
    const bool withdrawn = head.withdrawn;
    for (csv::Column& column : csv::readingColumns({"code", "bodySite", "value", "unit", "note"})) {
      columns.push_back(std::move(column));
    }
    std::vector<csv::Bound> bound;
    for (std::size_t i = 0; i < columns.size(); ++i) bound.push_back({&columns[i], i});
    csv::Visit visit(codes_.map(), tables(), bound);
    if (rows_.states.empty() && !withdrawn) {
      draft_.remark("fhir-observations-none", firstPlace());
    }
    draft_.start(visit);
    const std::size_t first = report() != nullptr           ? group_.report.number
                              : group_.observations.empty() ? 0
                                                            : group_.observations.front().number;
    visit.add(csv::rowOf(std::move(head), columns.size(), "entry", first));
    for (csv::Row& row : rows_.rows) {
      if (!withdrawn) visit.add(csv::behind(std::move(row), width));
    }
    return visit.text();
  }

  std::string firstPlace() const {
    return group_.observations.empty() ? group_.report.place : group_.observations.front().place;
  }

  /// By the first that there is: what the map says, the report, the one panel, the bundle.
  void readIdentifier() {
    draft_.locate("/identifier", report() != nullptr ? placeOf("identifier") : "Bundle identifier");
    if (codes_.map().identify == csv::Identify::PatientAndTime) return;
    if (report() != nullptr && !report()->list("identifier").empty()) {
      const Value& own = report()->list("identifier").front();
      const Value* source = sourceOf(own);
      return draft_.putIdentifier("/identifier", source == nullptr ? own : *source,
                                  placeOf("identifier"));
    }
    const Entry* panel = onlyPanel();
    if (panel != nullptr && !panel->resource->list("identifier").empty()) {
      return draft_.putIdentifier("/identifier", panel->resource->list("identifier").front(),
                                  panel->place + " identifier");
    }
    const Value* whole = bundle_.root.member("identifier");
    if (whole != nullptr && bundle_.alone) {
      return draft_.putIdentifier("/identifier", *whole, "Bundle identifier");
    }
    draft_.remark("fhir-identity", firstPlace());
  }

  /// Of a report that Footbridge made the assessment that it was made of: its Provenance names it.
  const Value* sourceOf(const Value& identifier) const {
    const bool ours = identifier.text("system") == tables().canonicalBase + "/id/diagnosticreport";
    const Value* provenance = ours ? bundle_.entries.provenanceOf(*report()) : nullptr;
    if (provenance == nullptr) return nullptr;
    for (const Value& each : provenance->list("entity")) {
      const Value* what = each.text("role") == "source" ? each.member("what") : nullptr;
      const Value* named = what == nullptr ? nullptr : what->member("identifier");
      if (named != nullptr) return named;
    }
    return nullptr;
  }

  /// The panel that holds the others together, if there is just one.
  const Entry* onlyPanel() const {
    const Entry* out = nullptr;
    for (const Entry& entry : group_.observations) {
      if (entry.resource->list("hasMember").empty()) continue;
      if (out != nullptr) return nullptr;
      out = &entry;
    }
    return out;
  }

  /// What one report holds has to be of one patient, or readings would move between records.
  void readSubject() {
    std::set<std::string> subjects;
    const Entry* from = report() != nullptr ? &group_.report : nullptr;
    if (from != nullptr) subjects.insert(subjectOf(*from, bundle_.entries));
    for (const Entry& entry : group_.observations) {
      const std::string subject = subjectOf(entry, bundle_.entries);
      if (subject.empty()) continue;
      subjects.insert(subject);
      if (from == nullptr || from->resource->member("subject") == nullptr) from = &entry;
    }
    subjects.erase("");
    if (subjects.size() > 1) draft_.remark("fhir-subjects", from->place + " subject");
    if (from == nullptr) return;
    const Scope scope{*from->resource, &bundle_.entries, from->container};
    const Value* subject = from->resource->member("subject");
    const std::string kind = subject == nullptr ? "" : typeOf(*subject, scope.resolve(*subject));
    if (!kind.empty() && kind != "Patient") {
      draft_.remark("fhir-subject-kind", from->place + " subject",
                    {{"value", printable(shortened(kind, 60))}});
    }
    putSubject(draft_, scope, subject);
  }

  /// The report and the panels, whose states are those of all that they hold.
  std::vector<const Entry*> leads() const {
    std::vector<const Entry*> out = rows_.panels;
    if (report() != nullptr) out.insert(out.begin(), &group_.report);
    return out;
  }

  /// One letter for each of them, F if there is none; "" if one of them cannot be filed.
  std::string readLetters() {
    std::string out;
    bool good = true;
    for (const Entry* lead : leads()) {
      const std::string_view status = lead->resource->text("status");
      const std::string_view letter = letterOf(status);
      out += letter;
      if (!letter.empty()) continue;
      good = false;
      draft_.remark("fhir-observation-status", lead->place + " status",
                    {{"value", shortened(printable(status), 20)}});
    }
    if (!good) return {};
    return out.empty() ? "F" : out;
  }

  void readState(csv::Cells& head) {
    const std::string place = report() != nullptr ? placeOf("status") : firstPlace() + " status";
    const csv::Revisions revisions = codes_.map().resources->revisions;
    const auto state = csv::stateOf(readLetters(), rows_.states, revisions);
    if (!state) return;
    head.withdrawn = state->withdrawn;
    head.add(Role::Text, "/status", std::string(state->status), place);
    if (state->withdrawn) {
      head.add(Role::Text, "/note",
               "Withdrawn by the sender (status entered-in-error or cancelled).", place);
    } else if (state->status == "corrected") {
      draft_.remark("fhir-correction-whole", place);
    }
    revise(head, *state);
  }

  /// The version that holds the results together has its number; else it is told by time.
  void revise(csv::Cells& head, const csv::State& state) {
    const Entry* panel = onlyPanel();
    const Entry* lead = report() != nullptr ? &group_.report : panel;
    const Value* meta = lead == nullptr ? nullptr : lead->resource->member("meta");
    const std::string_view version = meta == nullptr ? "" : meta->text("versionId");
    if (counts(version)) {
      return head.add(Role::Whole, "/revision", std::string(version), lead->place + " meta");
    }
    if (!state.timed) return;
    const auto [stamp, place] = changedAt();
    const auto moment = parseInstant(stamp);
    if (const auto revision = moment ? csv::revisionAt(*moment) : std::nullopt) {
      return head.add(Role::Whole, "/revision", *revision, place);
    }
    draft_.remark("fhir-changed-when", place);
  }

  /// When this version was made, as far as it is said.
  std::pair<std::string, std::string> changedAt() const {
    const auto [issued, place] = latestIssued();
    if (!issued.empty()) return {issued, place};
    const Value* meta = report() == nullptr ? nullptr : report()->member("meta");
    if (meta != nullptr && !meta->text("lastUpdated").empty()) {
      return {std::string(meta->text("lastUpdated")), placeOf("meta")};
    }
    return {std::string(bundle_.root.text("timestamp")), "Bundle timestamp"};
  }

  /// That of the report, else the latest of the Observations.
  std::pair<std::string, std::string> latestIssued() const {
    if (report() != nullptr && !report()->text("issued").empty()) {
      return {std::string(report()->text("issued")), placeOf("issued")};
    }
    return chosen([](const Value& resource) { return resource.text("issued"); }, "issued",
                  [](const Instant& one, const Instant& other) { return one.utc > other.utc; });
  }

  /// Of what the readings say the moment that comes first by `before`; the first text if none is a
  /// moment.
  template <class Text, class Before>
  std::pair<std::string, std::string> chosen(Text textOf, std::string_view element,
                                             Before before) const {
    std::pair<std::string, std::string> out;
    std::optional<Instant> best;
    for (const Entry* entry : rows_.readings) {
      const std::string text(textOf(*entry->resource));
      const std::optional<Instant> moment = parseInstant(text);
      const bool better = moment && (!best || before(*moment, *best));
      if (!better && !(out.first.empty() && !text.empty())) continue;
      if (moment) best = moment;
      out = {text, entry->place + " " + std::string(element)};
    }
    return out;
  }

  /// Of the report, else the earliest of the readings.
  void readTimes(csv::Cells& head) {
    std::pair<std::string, std::string> measured;
    if (report() != nullptr) {
      measured = {std::string(effectiveOf(*report())), placeOf(effectiveName(*report()))};
    }
    if (measured.first.empty()) {
      measured = chosen(effectiveOf, "effective", [](const Instant& one, const Instant& other) {
        return one.utc < other.utc;
      });
    }
    if (!measured.first.empty())
      head.add(Role::Moment, "/measuredAt", measured.first, measured.second);
    const auto [issued, place] = latestIssued();
    if (!issued.empty()) head.add(Role::Moment, "/issuedAt", issued, place);
    if (!head.withdrawn) checkTimes();
  }

  /// Of the report and of each reading: they are of one visit, or refused.
  void checkTimes() {
    std::vector<const Entry*> all = rows_.readings;
    if (report() != nullptr) all.insert(all.begin(), &group_.report);
    std::vector<csv::Timed> times;
    for (const Entry* entry : all) {
      const std::string stamp(effectiveOf(*entry->resource));
      const std::string place = entry->place + " " + std::string(effectiveName(*entry->resource));
      if (!stamp.empty()) times.push_back({stamp, place});
    }
    const csv::SpreadRules rules{"fhir-times-apart", "fhir-times-differ", "fhir-time"};
    auto found = csv::spreadOf(times, codes_.map(), rules, tables());
    if (found) draft_.remark(*std::move(found));
  }

  const Gathered& group_;
  const Bundle& bundle_;
  const Codes& codes_;
  Draft draft_;
  Rows rows_;
};

}  // namespace

intake::Text textOf(const Gathered& group, const Bundle& bundle, const Names& names) {
  return Results(group, bundle, names).read();
}

}  // namespace footbridge::fhir
