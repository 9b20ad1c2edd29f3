#include "deliver/address.hpp"

#include <curl/curl.h>

#include <memory>

namespace footbridge::deliver {
namespace {

using Url = std::unique_ptr<CURLU, decltype(&curl_url_cleanup)>;

std::string part(CURLU* url, CURLUPart which) {
  char* text = nullptr;
  if (curl_url_get(url, which, &text, 0) != CURLUE_OK) return {};
  std::string out(text);
  curl_free(text);
  return out;
}

bool loopback(const std::string& host) {
  return host == "127.0.0.1" || host == "localhost" || host == "[::1]";
}

}  // namespace

bool allowedAddress(const std::string& url) {
  const Url read(curl_url(), &curl_url_cleanup);
  if (curl_url_set(read.get(), CURLUPART_URL, url.c_str(), 0) != CURLUE_OK) return false;
  if (!part(read.get(), CURLUPART_USER).empty()) return false;
  const std::string scheme = part(read.get(), CURLUPART_SCHEME);
  return scheme == "https" || (scheme == "http" && loopback(part(read.get(), CURLUPART_HOST)));
}

bool allowedBase(const std::string& base) {
  return allowedAddress(base) && base.find_first_of("?#") == std::string::npos;
}

}  // namespace footbridge::deliver
