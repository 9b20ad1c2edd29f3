#include "core/issue.hpp"

#include <algorithm>
#include <array>
#include <iterator>

namespace footbridge {

std::string_view code(Severity severity) {
  static constexpr std::array<std::string_view, 4> kCodes{"information", "warning", "error",
                                                          "fatal"};
  return kCodes[static_cast<std::size_t>(severity)];
}

std::string_view code(IssueType type) {
  static constexpr std::array<std::string_view, 17> kCodes{
      "structure", "required",      "value",     "invariant", "code-invalid", "business-rule",
      "duplicate", "not-supported", "too-long",  "not-found", "incomplete",   "informational",
      "no-store",  "transient",     "exception", "security",  "throttled"};
  return kCodes[static_cast<std::size_t>(type)];
}

bool blocking(const Issues& issues) {
  return std::any_of(issues.begin(), issues.end(),
                     [](const Issue& issue) { return issue.severity >= Severity::Error; });
}

void append(Issues& issues, Issues more) {
  issues.insert(issues.end(), std::make_move_iterator(more.begin()),
                std::make_move_iterator(more.end()));
}

std::size_t count(const Issues& issues, Severity severity) {
  return static_cast<std::size_t>(
      std::count_if(issues.begin(), issues.end(),
                    [severity](const Issue& issue) { return issue.severity == severity; }));
}

}  // namespace footbridge
