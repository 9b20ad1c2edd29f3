#include "assess/turning.hpp"

#include <algorithm>
#include <cstdlib>
#include <optional>

#include "assess/assess.hpp"

namespace footbridge {
namespace {

/// The reading moved by whole mmHg or by units of its last digit; nothing if it cannot be.
std::optional<Content> moved(const Reading& reading, std::int32_t steps) {
  if (reading.comparator != Comparator::None) return std::nullopt;
  if (const auto* pressure = std::get_if<Pressure>(&reading.content)) {
    const Pressure out{pressure->halves + Pressure::mmhg(steps).halves};
    return out.halves > 0 ? std::optional<Content>{out} : std::nullopt;
  }
  if (const auto* decimal = std::get_if<Decimal>(&reading.content)) {
    const Decimal out{decimal->digits + steps, decimal->scale};
    return out.digits >= 0 ? std::optional<Content>{out} : std::nullopt;
  }
  return std::nullopt;
}

/// Walks one reading away from its value and notes where each grade turns first.
class Walk {
 public:
  Walk(const Assessment& assessment, const Findings& findings, const Tables& tables)
      : assessment_(assessment), grades_(findings.grades), tables_(tables) {
    turns_.resize(grades_.size());
  }

  void along(std::size_t at, std::int32_t direction) {
    std::vector<bool> turned(grades_.size(), false);
    for (std::int32_t step = 1; step <= kTurnReach; ++step) {
      const auto content = moved(assessment_.readings[at], direction * step);
      if (!content) return;
      Assessment changed = assessment_;
      changed.readings[at].content = *content;
      note(findOut(changed, tables_), changed.readings[at], direction * step, turned);
    }
  }

  std::vector<std::vector<Turn>> turns() && { return std::move(turns_); }

 private:
  void note(const Findings& findings, const Reading& reading, std::int32_t steps,
            std::vector<bool>& turned) {
    if (findings.grades.size() != grades_.size()) return;
    for (std::size_t i = 0; i < grades_.size(); ++i) {
      if (turned[i] || findings.grades[i].outcome == grades_[i].outcome) continue;
      turned[i] = true;
      turns_[i].push_back({reading, steps, findings.grades[i].outcome});
    }
  }

  const Assessment& assessment_;
  const std::vector<Grade>& grades_;
  const Tables& tables_;
  std::vector<std::vector<Turn>> turns_;
};

}  // namespace

std::vector<std::vector<Turn>> turningPoints(const Assessment& assessment, const Findings& findings,
                                             const Tables& tables) {
  Walk walk(assessment, findings, tables);
  for (std::size_t at = 0; at < assessment.readings.size(); ++at) {
    walk.along(at, 1);
    walk.along(at, -1);
  }
  std::vector<std::vector<Turn>> turns = std::move(walk).turns();
  for (std::vector<Turn>& list : turns) {
    std::stable_sort(list.begin(), list.end(), [](const Turn& left, const Turn& right) {
      return std::abs(left.steps) < std::abs(right.steps);
    });
  }
  return turns;
}

}  // namespace footbridge
