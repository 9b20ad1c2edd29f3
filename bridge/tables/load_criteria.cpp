// criteria.json: published figures that one measure of a leg is held against.

#include <algorithm>
#include <array>

#include "tables/fields.hpp"

namespace footbridge::tables {
namespace {

constexpr std::array<std::string_view, 4> kEdges{"above", "atLeast", "below", "atMost"};
constexpr std::array<std::string_view, 4> kPressures{"ankle", "ankle-after", "toe", "tcpo2"};

bool knownMeasure(std::string_view name) {
  return std::find(kPressures.begin(), kPressures.end(), name) != kPressures.end() ||
         std::find(kIndexIds.begin(), kIndexIds.end(), name) != kIndexIds.end();
}

/// The one figure of the row and the side on which it is met.
void readFigure(Fields& row, Criterion& out) {
  std::size_t found = 0;
  for (std::size_t i = 0; i < kEdges.size(); ++i) {
    const std::optional<std::int32_t> figure = row.bound(kEdges[i]);
    if (!figure) continue;
    out.edge = static_cast<Edge>(i);
    out.figure = *figure;
    ++found;
  }
  if (found != 1) row.fault("above", "or atLeast or below or atMost: one of them is asked for");
}

Criterion readCriterion(Fields row) {
  Criterion out;
  out.id = row.text("id");
  out.scheme = row.text("scheme");
  out.name = row.text("name");
  out.measure = row.text("measure");
  if (!knownMeasure(out.measure)) row.fault("measure", "is no index and no pressure of a leg");
  readFigure(row, out);
  out.eitherWay = row.flag("eitherWay");
  out.inDiabetes = row.flag("inDiabetes");
  out.source = row.source();
  return out;
}

}  // namespace

void loadCriteria(const Files& files, Tables& tables, Issues& issues) {
  const json::Value file = parseFile(files, "criteria.json", issues);
  for (const json::Value& row : Fields(file, "criteria.json", issues).list("rows")) {
    tables.criteria.push_back(
        readCriterion({row, "criteria.json " + std::string(row.text("id")), issues}));
  }
}

}  // namespace footbridge::tables
