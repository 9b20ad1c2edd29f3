#include "deliver/bundle_marks.hpp"

namespace footbridge::deliver {

namespace {

/// A mark that many bundles hold, and the place of a character of it that is rare in them:
/// searching for that one is several times as fast as for the mark, which begins like everything
/// else.
struct Mark {
  std::string_view text;
  std::size_t rare;
};

constexpr Mark kObservation{"\"resourceType\":\"Observation\"", 16};  // O
constexpr Mark kDevice{"\"url\":\"Device\",\"ifNoneExist\":\"", 7};   // D
constexpr Mark kRequest{"\"request\":{\"method\":\"", 3};             // q

std::size_t find(std::string_view bundle, const Mark& mark, std::size_t from) {
  const char rare = mark.text[mark.rare];
  for (std::size_t at = bundle.find(rare, from + mark.rare); at != std::string_view::npos;
       at = bundle.find(rare, at + 1)) {
    if (bundle.substr(at - mark.rare, mark.text.size()) == mark.text) return at - mark.rare;
  }
  return std::string_view::npos;
}

}  // namespace

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
  bundle = bundle.substr(0, find(bundle, kObservation, 0));
  std::vector<std::string> out;
  for (std::size_t at = find(bundle, kDevice, 0); at != std::string_view::npos;
       at = find(bundle, kDevice, at)) {
    at += kDevice.text.size();
    out.emplace_back(bundle.substr(at, bundle.find('"', at) - at));
  }
  return out;
}

std::int32_t entriesOf(std::string_view bundle) {
  std::int32_t out = 0;
  for (std::size_t at = find(bundle, kRequest, 0); at != std::string_view::npos;
       at = find(bundle, kRequest, at + kRequest.text.size())) {
    ++out;
  }
  return out;
}

}  // namespace footbridge::deliver
