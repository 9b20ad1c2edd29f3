#include "csv/header.hpp"

#include <algorithm>

namespace footbridge::csv {
namespace {

std::string listed(const std::vector<std::string>& names) {
  std::string out;
  for (const std::string& name : names) {
    out += (out.empty() ? "'" : ", '") + std::string(shortened(name, 60)) + "'";
  }
  return out;
}

/// What may help to find a column that is not there.
std::string hint(const std::string& name, const std::vector<std::string>& names) {
  if (names.size() == 1) {
    return "The header has one column only: is the delimiter in [file] the right one?";
  }
  const std::string_view close = nearest(name, names);
  if (!close.empty()) return "Is it '" + std::string(close) + "'? Then write that in the map.";
  return "Write the name in the map as it stands in the header, or take the line out of the map.";
}

bool tellsVisits(const Target& target) {
  return target.pointer == "/identifier" || target.pointer == "/revision";
}

bool tellsWhoAndWhen(const Target& target) {
  return target.pointer == "/patient/identifiers" || target.pointer == "/measuredAt";
}

}  // namespace

Header readHeader(const Record& record, const SourceMap& map, const Tables& tables, Issues& faults,
                  Issues& notices) {
  Header out;
  const std::string place = "row 1";
  for (const std::string& cell : record.cells) {
    const std::optional<std::string> name = decoded(cell, map.encoding);
    const std::string column = "row 1, column " + std::to_string(out.names.size() + 1);
    const bool readable = name && name->find('\0') == std::string::npos;
    if (!readable) {
      faults.push_back(
          issue(tables.rule("csv-encoding"), column,
                {{"encoding", map.encoding == Encoding::Utf8 ? "UTF-8" : "Windows-1252"}}));
    }
    out.names.push_back(readable ? squeezed(*name) : "");
  }
  out.width = out.names.size();
  while (!out.names.empty() && out.names.back().empty()) out.names.pop_back();
  std::vector<std::string> unread = out.names;
  for (const Column& column : map.columns) {
    const auto found = std::find(out.names.begin(), out.names.end(), column.name);
    if (found == out.names.end()) {
      faults.push_back(issue(tables.rule("csv-column-missing"), place,
                             {{"name", column.name}, {"hint", hint(column.name, out.names)}}));
      continue;
    }
    if (std::count(found, out.names.end(), column.name) > 1) {
      faults.push_back(issue(tables.rule("csv-column-twice"), place, {{"name", column.name}}));
    }
    const auto index = static_cast<std::size_t>(found - out.names.begin());
    out.columns.push_back({&column, index});
    const bool key = map.identify == Identify::Column ? tellsVisits(column.target)
                                                      : tellsWhoAndWhen(column.target);
    if (key) out.key.push_back(index);
    std::erase(unread, column.name);
  }
  std::erase(unread, "");
  if (!unread.empty()) {
    notices.push_back(issue(tables.rule("csv-column-unread"), place, {{"names", listed(unread)}}));
  }
  return out;
}

}  // namespace footbridge::csv
