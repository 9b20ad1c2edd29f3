#include "assess/flags.hpp"

#include "assess/flag_parts.hpp"
#include "assess/sentences.hpp"

namespace footbridge {

namespace assess {

Flag flag(const Tables& tables, RowId rule, Side side, Arguments arguments) {
  Flag out;
  out.rule = tables.rule(rule).id;
  out.side = side;
  out.text = sentence(tables, rule, arguments);
  return out;
}

}  // namespace assess

std::vector<Flag> raiseFlags(const Assessment& assessment, const std::vector<Index>& indices,
                             const Tables& tables) {
  std::vector<Flag> flags;
  assess::flagVisit(assessment, indices, tables, flags);
  for (const Side side : kSides) {
    assess::flagLeg({assessment, indices, tables, side}, flags);
  }
  return flags;
}

}  // namespace footbridge
