#include "tables/thresholds.hpp"

#include "model/findings.hpp"

namespace footbridge {
namespace {

/// "below 50 mmHg", "0.40 or less", "30 to 50 mmHg".
std::string asked(const Threshold& threshold) {
  const auto say = [&](std::int32_t value) {
    return threshold.measure == "abi" ? hundredthsText(value) : std::to_string(value) + " mmHg";
  };
  if (threshold.below) return "below " + say(*threshold.below);
  if (threshold.atMost) return say(*threshold.atMost) + " or less";
  if (!threshold.rangeFrom || !threshold.rangeTo) return {};  // refused by the loader
  return std::to_string(*threshold.rangeFrom) + " to " + say(*threshold.rangeTo);
}

}  // namespace

std::string_view measureName(std::string_view measure) {
  if (measure == "abi") return "ankle-brachial index";
  if (measure == "ankle") return "ankle pressure";
  return measure == "toe" ? "toe pressure" : "TcPO2";
}

void sayThresholds(Tables& tables) {
  for (CltiDefinition& definition : tables.clti) {
    for (Threshold& threshold : definition.thresholds) {
      const std::string bound = asked(threshold);
      for (std::size_t i = 0; i < kThresholdRules.size(); ++i) {
        threshold.says[i] = tables.rule(kThresholdRules[i])
                                .sentence.with({{"measure", measureName(threshold.measure)},
                                                {"asked", bound},
                                                {"definition", definition.name},
                                                {"certainty", threshold.source.certainty}});
      }
    }
  }
}

}  // namespace footbridge
