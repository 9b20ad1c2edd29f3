// What has changed since an earlier assessment: indices in whole hundredths, pressures in mmHg.

#include "assess/derive_parts.hpp"
#include "assess/sentences.hpp"

namespace footbridge::assess {
namespace {

constexpr std::uint8_t kDecimals = 2;

std::int64_t hundredthsOf(const Decimal& value) {
  std::int64_t out = value.digits;
  for (std::uint8_t i = value.scale; i < kDecimals; ++i) out *= 10;
  return out;
}

/// Why there is nothing earlier to compare with; "" if there is.
std::string whyNotEarlier(const Assessment& assessment, Item item, Side side,
                          const Tables& tables) {
  const Reading* earlier = assessment.find(item, side);
  const std::string& name = tables.naming(item, side);
  if (earlier == nullptr) return sentence(tables, "derive-not-recorded", {{"reading", name}});
  const auto number = plainNumber(earlier);
  if (!number && !plainPressure(earlier)) {
    return sentence(tables, "derive-previous-no-figure", {{"reading", name}});
  }
  if (!number || number->scale <= kDecimals) return {};
  return sentence(tables, "derive-previous-decimals",
                  {{"reading", name}, {"value", number->text()}});
}

std::string methodOf(const Assessment& assessment, std::string_view now, const Tables& tables) {
  const std::string date =
      assessment.previousOn ? spoken(*assessment.previousOn) : std::string{"an earlier assessment"};
  return sentence(tables, "derive-method-change", {{"now", now}, {"date", date}});
}

Index blankChange(IndexKind kind, Side side, const Assessment& assessment, Item earlier,
                  const std::vector<ReadingRef>& inputs) {
  Index index;
  index.kind = kind;
  index.side = side;
  index.inputs = inputs;
  if (assessment.find(earlier, side) != nullptr) index.inputs.push_back({earlier, side});
  return index;
}

Index indexChange(IndexKind kind, const Assessment& assessment, const Index& now, Item item,
                  const Tables& tables) {
  Index index = blankChange(kind, now.side, assessment, item, now.inputs);
  index.because = whyNotEarlier(assessment, item, now.side, tables);
  join(index.because, now.because);
  if (!index.because.empty()) {
    index.reason = now.present() ? AbsentReason::Unknown : now.reason;
    return index;
  }
  const auto earlier = plainNumber(assessment.find(item, now.side));
  index.hundredths = static_cast<std::int32_t>(*now.hundredths - hundredthsOf(*earlier));
  index.method = methodOf(assessment, tables.row(now.kind).label, tables);
  index.remarks = now.remarks;
  return index;
}

Index toeChange(const Assessment& assessment, Side side, const Tables& tables) {
  const Chosen toe = onePressure(assessment, Item::ToePressure, side, tables);
  Index index = blankChange(IndexKind::ToePressureChange, side, assessment,
                            Item::PreviousToePressure, toe.inputs);
  index.because = whyNotEarlier(assessment, Item::PreviousToePressure, side, tables);
  join(index.because, toe.because);
  if (!index.because.empty()) {
    index.reason = toe.pressure ? AbsentReason::Unknown : toe.reason;
    return index;
  }
  const auto earlier = plainPressure(assessment.find(Item::PreviousToePressure, side));
  index.difference = Pressure{toe.pressure->halves - earlier->halves};
  index.method = methodOf(assessment, tables.row(Item::ToePressure).label, tables);
  return index;
}

}  // namespace

std::vector<Index> changes(const Assessment& assessment, Side side, const Index& abi,
                           const Index& tbi, const Tables& tables) {
  return {indexChange(IndexKind::AbiChange, assessment, abi, Item::PreviousAbi, tables),
          indexChange(IndexKind::TbiChange, assessment, tbi, Item::PreviousTbi, tables),
          toeChange(assessment, side, tables)};
}

}  // namespace footbridge::assess
