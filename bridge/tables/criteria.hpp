#pragma once
// Rows of criteria.json: published figures that one measure of a leg is held against.

#include <cstdint>
#include <string>

namespace footbridge {

/// Where a row comes from and how sure that is.
struct Source {
  std::string text;       ///< document, edition, place
  std::string certainty;  ///< "verified" | "secondary" | "from memory" | "computed" | "common
                          ///< practice" | "our choice"
};

/// Which side of the figure meets the criterion.
enum class Edge : std::uint8_t { Above, AtLeast, Below, AtMost };

/// One published figure for one measure. `measure` is the id of an index (mapping/indices.json) or
/// one of "ankle", "ankle-after" (after exercise), "toe", "tcpo2". The figure is in hundredths for
/// ratios and their changes, in mmHg for pressures and differences, in per cent for a fall.
struct Criterion {
  std::string id;      ///< code of the row in our own CodeSystem, too
  std::string scheme;  ///< id of the concept under which rows of one kind stand together
  std::string name;    ///< what is asked and by whom
  std::string measure;
  Edge edge = Edge::Above;
  std::int32_t figure = 0;
  bool eitherWay = false;   ///< a change counts whether up or down
  bool inDiabetes = false;  ///< found in people with diabetes, and held against nobody else
  Source source;
};

}  // namespace footbridge
