#include "hl7/times.hpp"

#include <optional>

#include "core/time.hpp"
#include "csv/spread.hpp"
#include "hl7/result.hpp"

namespace footbridge::hl7 {
namespace {

constexpr std::size_t kObserved = 7;         ///< of OBR
constexpr std::size_t kObservedResult = 14;  ///< of OBX
constexpr std::size_t kChanged = 22;         ///< of OBR

bool said(std::string_view field) { return !field.empty() && field != "\"\""; }

/// All that says when something of this visit was measured, orders first.
std::vector<Stamped> observed(const Group& group, const Context& context) {
  std::vector<Stamped> out;
  for (const Segment* segment : group.rest) {
    const bool order = segment->name == "OBR";
    if (order && said(segment->field(kObserved))) out.push_back({segment, kObserved});
  }
  for (const Segment* segment : group.rest) {
    const bool timed = segment->name == "OBX" && said(segment->field(kObservedResult));
    if (timed && ofThisVisit(*segment, context)) out.push_back({segment, kObservedResult});
  }
  return out;
}

}  // namespace

Stamped measuredIn(const Group& group, const Context& context) {
  const std::vector<Stamped> all = observed(group, context);
  return all.empty() ? Stamped{group.order, kObserved} : all.front();
}

const Segment* changedLast(const Group& group, const Context& context) {
  const char mark = context.message.marks.component;
  const std::string_view zone = zoneOf(group.header->field(7));
  const Segment* out = nullptr;
  std::optional<Instant> latest;
  for (const Segment* segment : group.rest) {
    const bool timed = segment->name == "OBR" && said(segment->field(kChanged));
    if (!timed) continue;
    const std::string_view stamp = part(segment->field(kChanged), mark, 1);
    const auto moment = parseInstant(momentOf(stamp, zone.empty() ? "+0000" : zone));
    if (!moment) return segment;
    if (latest && moment->utc <= latest->utc) continue;
    latest = moment;
    out = segment;
  }
  return out;
}

void checkTimes(const Group& group, const Context& context, Issues& issues) {
  const std::string_view zone = zoneOf(group.header->field(7));
  const char mark = context.message.marks.component;
  std::vector<csv::Timed> times;
  for (const auto& [segment, field] : observed(group, context)) {
    times.push_back({momentOf(part(segment->field(field), mark, 1), zone), segment->place(field)});
  }
  const csv::SpreadRules rules{"hl7-times-apart", "hl7-times-differ", "hl7-time"};
  if (auto found = csv::spreadOf(times, context.settings.map, rules, context.tables)) {
    issues.push_back(*std::move(found));
  }
}

}  // namespace footbridge::hl7
