#pragma once
// Whose results they are, when, and in what state: PID, PV1, ORC, OBR and OBX-11 as cells of an
// assessment.

#include <string>
#include <string_view>
#include <vector>

#include "csv/cells.hpp"
#include "hl7/group.hpp"
#include "hl7/settings.hpp"

namespace footbridge::hl7 {

using csv::Cells;

/// A message and what it is read by.
struct Context {
  const Message& message;
  const Settings& settings;
  const Tables& tables;

  void remark(Issues& issues, std::string_view rule, std::string place,
              Arguments arguments = {}) const {
    issues.push_back(issue(tables.rule(rule), std::move(place), arguments));
  }

  /// Text with its escapes undone, blanks at the ends taken off; "" for "" (the explicit null).
  std::string text(std::string_view raw, const std::string& place, Issues& issues) const;
};

Cells headOf(const Group& group, const Context& context);

/// True for an OBX that says something of the visit and is no reading (conditions.room).
bool ofTheVisit(const Segment& result, const Context& context);

/// "20261005102000+0100" as an assessment writes it, with `zone` where it has none; as it stands
/// where it is no moment.
std::string momentOf(std::string_view stamp, std::string_view zone);

/// The zone of a time stamp, "+0100" or "".
std::string_view zoneOf(std::string_view stamp);

}  // namespace footbridge::hl7
