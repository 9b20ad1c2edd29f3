#include "deliver/local.hpp"

#include <curl/curl.h>

#include <memory>

namespace footbridge::deliver {
namespace {

constexpr long kPatience = 60;  ///< seconds
constexpr std::size_t kMostBytes = 256U << 20U;

std::size_t take(const char* bytes, std::size_t, std::size_t count, void* to) {
  auto& out = *static_cast<std::string*>(to);
  if (out.size() + count > kMostBytes) return 0;
  out.append(bytes, count);
  return count;
}

}  // namespace

Result<std::string> askLocal(const std::filesystem::path& socket, const std::string& path,
                             const std::string& body) {
  const std::unique_ptr<CURL, decltype(&curl_easy_cleanup)> curl(curl_easy_init(),
                                                                 &curl_easy_cleanup);
  const std::unique_ptr<curl_slist, decltype(&curl_slist_free_all)> fields(
      curl_slist_append(nullptr, "Content-Type: application/json"), &curl_slist_free_all);
  std::string out;
  curl_easy_setopt(curl.get(), CURLOPT_UNIX_SOCKET_PATH, socket.c_str());
  curl_easy_setopt(curl.get(), CURLOPT_URL, ("http://localhost" + path).c_str());
  curl_easy_setopt(curl.get(), CURLOPT_PROXY, "");
  curl_easy_setopt(curl.get(), CURLOPT_NOSIGNAL, 1L);
  curl_easy_setopt(curl.get(), CURLOPT_TIMEOUT, kPatience);
  curl_easy_setopt(curl.get(), CURLOPT_HTTPHEADER, fields.get());
  curl_easy_setopt(curl.get(), CURLOPT_POSTFIELDS, body.data());
  curl_easy_setopt(curl.get(), CURLOPT_POSTFIELDSIZE_LARGE, static_cast<curl_off_t>(body.size()));
  curl_easy_setopt(curl.get(), CURLOPT_WRITEFUNCTION, &take);
  curl_easy_setopt(curl.get(), CURLOPT_WRITEDATA, &out);
  const CURLcode code = curl_easy_perform(curl.get());
  if (code == CURLE_OK) return out;
  return Issue{Severity::Error,
               IssueType::Transient,
               "serve",
               "",
               std::string("The service does not answer: ") + curl_easy_strerror(code) + ".",
               "Is it running?"};
}

}  // namespace footbridge::deliver
