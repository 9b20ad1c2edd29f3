#include "csv/state.hpp"

namespace footbridge::csv {
namespace {

constexpr std::string_view kFiled{"FCPRX"};

}  // namespace

bool filed(std::string_view report) {
  return report.size() == 1 && kFiled.find(report) != std::string_view::npos;
}

std::optional<State> stateOf(std::string_view reports, std::string_view results,
                             Revisions revisions) {
  if (reports.empty() || reports.find_first_not_of(kFiled) != std::string_view::npos) {
    return std::nullopt;
  }
  const auto any = [results](char c) { return results.find(c) != std::string_view::npos; };
  const auto said = [reports](char c) { return reports.find(c) != std::string_view::npos; };
  const bool gone = !results.empty() && results.find_first_not_of("DW") == std::string_view::npos;
  const bool early = said('P') || said('R') || any('P');
  State out;
  out.withdrawn = said('X') || any('W') || gone;
  out.changed = said('C') || any('C') || any('A') || any('D');
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
