#include "deliver/versions.hpp"

#include <map>

#include "json/value.hpp"
#include "json/writer.hpp"

namespace footbridge::deliver {
namespace {

constexpr std::string_view kMatch = "\"ifMatch\":";

struct Place {
  std::string location;  ///< "Observation/12"
  std::string etag;
};

using Places = std::map<std::string, Place, std::less<>>;

/// The version as an ETag: the server's own, or that of the address.
std::string etagOf(const json::Value& stored) {
  std::string etag(stored.text("etag"));
  if (!etag.empty()) return etag;
  const std::string_view location = stored.text("location");
  const std::size_t at = location.find("/_history/");
  if (at == std::string_view::npos) return {};
  return "W/\"" + std::string(location.substr(at + 10)) + "\"";
}

Places placesOf(const json::Value& earlier, const json::Value& receipt) {
  Places out;
  const json::Array& entries = earlier.list("entry");
  const json::Array& stored = receipt.list("resources");
  for (std::size_t i = 0; i < entries.size() && i < stored.size(); ++i) {
    const std::string_view location = stored[i].text("location");
    Place place{std::string(location.substr(0, location.find("/_history/"))), etagOf(stored[i])};
    if (place.location.empty() || place.etag.empty()) continue;
    out[std::string(entries[i].text("fullUrl"))] = std::move(place);
  }
  return out;
}

/// The entry, bound to its version.
std::string boundEntry(const json::Value& entry, std::string_view in, const Place& place) {
  const json::Value& resource = *entry.member("resource");
  const std::size_t slash = place.location.find('/');
  std::string out = "{\"fullUrl\":";
  json::appendQuoted(out, entry.text("fullUrl"));
  out += ",\"resource\":{\"id\":";
  json::appendQuoted(out, std::string_view(place.location).substr(slash + 1));
  out += ',';
  out += in.substr(resource.span.begin + 1, resource.span.end - resource.span.begin - 1);
  out += ",\"request\":{\"method\":\"PUT\",\"url\":";
  json::appendQuoted(out, place.location);
  (out += ',') += kMatch;
  json::appendQuoted(out, place.etag);
  return out + "}}";
}

}  // namespace

std::string withVersions(std::string_view bundle, std::string_view earlier,
                         std::string_view receipt) {
  const auto now = json::read(bundle);
  const auto before = json::read(earlier);
  const auto told = json::read(receipt);
  std::string out(bundle);
  if (!now || !before || !told) return out;
  const Places places = placesOf(*before, *told);
  const json::Array& entries = now->list("entry");
  for (std::size_t i = entries.size(); i-- > 0;) {
    const json::Value* request = entries[i].member("request");
    const auto place = places.find(entries[i].text("fullUrl"));
    const bool update = request != nullptr && request->text("method") == "PUT";
    if (!update || place == places.end()) continue;
    out.replace(entries[i].span.begin, entries[i].span.end - entries[i].span.begin,
                boundEntry(entries[i], bundle, place->second));
  }
  return out;
}

bool bound(std::string_view bundle) { return bundle.find(kMatch) != std::string_view::npos; }

}  // namespace footbridge::deliver
