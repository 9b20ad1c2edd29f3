#include "deliver/bundle_marks.hpp"

namespace footbridge::deliver {

std::string reportQuery(std::string_view bundle) {
  for (const std::string_view before : {"\"url\":\"DiagnosticReport\",\"ifNoneExist\":\"",
                                        "\"method\":\"PUT\",\"url\":\"DiagnosticReport?"}) {
    const std::size_t begin = bundle.find(before);
    if (begin == std::string_view::npos) continue;
    const std::string_view rest = bundle.substr(begin + before.size());
    return "/DiagnosticReport?" + std::string(rest.substr(0, rest.find('"')));
  }
  return {};
}

// They stand before the first Observation.
std::vector<std::string> instrumentsOf(std::string_view bundle) {
  constexpr std::string_view kBefore = "\"url\":\"Device\",\"ifNoneExist\":\"";
  bundle = bundle.substr(0, bundle.find("\"resourceType\":\"Observation\""));
  std::vector<std::string> out;
  for (std::size_t at = bundle.find(kBefore); at != std::string_view::npos;
       at = bundle.find(kBefore, at)) {
    at += kBefore.size();
    out.emplace_back(bundle.substr(at, bundle.find('"', at) - at));
  }
  return out;
}

std::int32_t entriesOf(std::string_view bundle) {
  constexpr std::string_view kMark = "\"request\":{\"method\":\"";
  constexpr std::size_t kRare = 3;  // the q
  std::int32_t out = 0;
  for (std::size_t at = bundle.find(kMark[kRare], kRare); at != std::string_view::npos;
       at = bundle.find(kMark[kRare], at + 1)) {
    out += bundle.substr(at - kRare, kMark.size()) == kMark ? 1 : 0;
  }
  return out;
}

}  // namespace footbridge::deliver
