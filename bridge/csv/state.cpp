#include "csv/state.hpp"

namespace footbridge::csv {

std::optional<State> stateOf(std::string_view report, std::string_view results,
                             Revisions revisions) {
  const auto any = [results](char c) { return results.find(c) != std::string_view::npos; };
  if (report.size() != 1 || std::string_view("FCPRX").find(report) == std::string_view::npos) {
    return std::nullopt;
  }
  const bool gone = !results.empty() && results.find_first_not_of("DW") == std::string_view::npos;
  const bool early = report == "P" || report == "R" || any('P');
  State out;
  out.withdrawn = report == "X" || any('W') || gone;
  out.changed = report == "C" || any('C') || any('A') || any('D');
  out.timed = out.withdrawn || out.changed || revisions == Revisions::ByTime;
  if (out.withdrawn) {
    out.status = "entered-in-error";
  } else if (early) {
    out.status = "preliminary";
  } else {
    out.status = out.changed ? "corrected" : "final";
  }
  return out;
}

std::optional<std::string> revisionAt(const Instant& moment) {
  constexpr std::chrono::sys_days kEpoch{std::chrono::year{2020} / 1 / 1};
  if (moment.utc <= kEpoch + std::chrono::seconds{2}) return std::nullopt;
  return std::to_string((moment.utc - kEpoch).count());
}

}  // namespace footbridge::csv
