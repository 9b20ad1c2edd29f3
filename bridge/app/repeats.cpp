#include "app/repeats.hpp"

#include <functional>
#include <string>

#include "core/text.hpp"

namespace footbridge::app {
namespace {

std::uint64_t hashed(std::string_view text) { return std::hash<std::string_view>{}(text); }

std::uint64_t identityOf(const Assessment& assessment) {
  return hashed(assessment.identifier.system + "\n" + assessment.identifier.value + "\n" +
                std::to_string(assessment.revision));
}

Issue issueOf(const Rule& rule, const Assessment& assessment) {
  return {rule.severity,
          rule.type,
          rule.id,
          "/identifier",
          rule.sentence.fill({{"value", assessment.identifier.value},
                              {"revision", std::to_string(assessment.revision)}}),
          rule.mend.text()};
}

}  // namespace

void Repeats::note(const intake::Text& text, Outcome& outcome) {
  if (outcome.assessment.identifier.value.empty() || outcome.refused()) return;
  const std::uint64_t identity = identityOf(outcome.assessment);
  const std::uint64_t content = hashed(text.bytes);
  const auto found = contents_.find(identity);
  if (found == contents_.end()) return remember(identity, content);
  const bool same = found->second == content;
  outcome.issues.push_back(issueOf(tables_.rule(choose(same, "repeat-identical", "repeat-differs")),
                                   outcome.assessment));
}

void Repeats::remember(std::uint64_t identity, std::uint64_t content) {
  if (order_.size() == kRemembered) {
    contents_.erase(order_.front());
    order_.pop_front();
  }
  contents_.emplace(identity, content);
  order_.push_back(identity);
}

}  // namespace footbridge::app
