#include "model/findings.hpp"

#include <algorithm>

#include "core/hashed_text.hpp"

namespace footbridge {

const Index* Findings::find(IndexKind kind, Side side) const {
  const auto found = std::find_if(indices.begin(), indices.end(), [=](const Index& index) {
    return index.kind == kind && index.side == side;
  });
  return found == indices.end() ? nullptr : &*found;
}

const Grade* Findings::find(std::string_view scheme, Side side, std::string_view ruleSet) const {
  const auto found = std::find_if(grades.begin(), grades.end(), [=](const Grade& grade) {
    return grade.side == side && sameText(grade.scheme, scheme) &&
           (ruleSet.empty() || sameText(grade.ruleSet, ruleSet));
  });
  return found == grades.end() ? nullptr : &*found;
}

bool isCriterion(const Grade& grade) { return grade.scheme.ends_with("-criterion"); }

std::string tenthsText(std::int32_t tenths) { return Decimal{tenths, 1}.text(); }

std::string hundredthsText(std::int32_t hundredths) { return Decimal{hundredths, 2}.text(); }

}  // namespace footbridge
