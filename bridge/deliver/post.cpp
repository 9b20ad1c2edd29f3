#include "deliver/post.hpp"

#include <curl/curl.h>

#include <algorithm>

#include "core/text.hpp"
#include "json/value.hpp"

namespace footbridge::deliver {
namespace {

constexpr std::size_t kAnswerLimit = 16U << 20U;
constexpr long kConnectMilliseconds = 5'000;
constexpr long kTotalMilliseconds = 60'000;

using Handle = std::unique_ptr<CURL, decltype(&curl_easy_cleanup)>;
using Headers = std::unique_ptr<curl_slist, decltype(&curl_slist_free_all)>;
using Url = std::unique_ptr<CURLU, decltype(&curl_url_cleanup)>;

/// Stops the transfer when the server sends more than can be meant.
std::size_t take(char* bytes, std::size_t size, std::size_t count, void* to) {
  auto& body = *static_cast<std::string*>(to);
  if (body.size() + size * count > kAnswerLimit) return 0;
  body.append(bytes, size * count);
  return size * count;
}

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

Issue refused(long status, const json::Value* body) {
  std::string said;
  const json::Value* issues = body == nullptr ? nullptr : body->member("issue");
  if (issues != nullptr && issues->asArray() != nullptr) {
    for (const json::Value& issue : *issues->asArray()) {
      const json::Value* details = issue.member("details");
      const std::string_view text =
          details != nullptr ? details->text("text") : issue.text("diagnostics");
      if (!text.empty()) said += " " + std::string(shortened(text, 300));
    }
  }
  const bool later = status == 429 || status >= 500;
  return {Severity::Error,
          later ? IssueType::Transient : IssueType::BusinessRule,
          "deliver",
          "",
          "The record server answered " + std::to_string(status) + "." + said,
          later ? "Send the same bundle again later: it does no harm twice."
                : "Mend what the record server names, or its configuration, and send again."};
}

Result<Receipt> readAnswer(long status, const std::string& body) {
  const Result<json::Value> answer = json::read(body);
  if (status != 200) return refused(status, answer ? &*answer : nullptr);
  const json::Value* entries = answer ? answer->member("entry") : nullptr;
  if (entries == nullptr || entries->asArray() == nullptr) return refused(status, nullptr);
  Receipt out{status, {}, {}};
  for (const json::Value& entry : *entries->asArray()) {
    const json::Value* response = entry.member("response");
    out.entries.emplace_back(response == nullptr ? "" : response->text("status"));
    out.locations.emplace_back(response == nullptr ? "" : response->text("location"));
  }
  return out;
}

std::size_t countStatus(const std::vector<std::string>& entries, std::string_view status) {
  return static_cast<std::size_t>(
      std::count_if(entries.begin(), entries.end(),
                    [status](const std::string& entry) { return entry.starts_with(status); }));
}

}  // namespace

std::size_t Receipt::created() const { return countStatus(entries, "201"); }

std::size_t Receipt::present() const { return countStatus(entries, "200"); }

bool allowedBase(const std::string& base) {
  const Url url(curl_url(), &curl_url_cleanup);
  if (curl_url_set(url.get(), CURLUPART_URL, base.c_str(), 0) != CURLUE_OK) return false;
  if (!part(url.get(), CURLUPART_USER).empty()) return false;
  const std::string scheme = part(url.get(), CURLUPART_SCHEME);
  return scheme == "https" || (scheme == "http" && loopback(part(url.get(), CURLUPART_HOST)));
}

struct Poster::State {
  std::string base;
  Handle handle{curl_easy_init(), &curl_easy_cleanup};
  Headers headers{nullptr, &curl_slist_free_all};
  char error[CURL_ERROR_SIZE] = {};

  void addHeader(const char* line) { headers.reset(curl_slist_append(headers.release(), line)); }
  void prepare(std::string_view bundle, std::string& body);
};

// libcurl's own defaults follow proxies from the environment, speak every protocol it knows and
// wait for ever; all of that is set here, once for each request.
void Poster::State::prepare(std::string_view bundle, std::string& body) {
  CURL* const curl = handle.get();
  curl_easy_reset(curl);
  curl_easy_setopt(curl, CURLOPT_URL, base.c_str());
  curl_easy_setopt(curl, CURLOPT_PROTOCOLS_STR, base.starts_with("https") ? "https" : "http");
  curl_easy_setopt(curl, CURLOPT_PROXY, "");
  curl_easy_setopt(curl, CURLOPT_FOLLOWLOCATION, 0L);
  curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L);
  curl_easy_setopt(curl, CURLOPT_CONNECTTIMEOUT_MS, kConnectMilliseconds);
  curl_easy_setopt(curl, CURLOPT_TIMEOUT_MS, kTotalMilliseconds);
  curl_easy_setopt(curl, CURLOPT_SSL_VERIFYPEER, 1L);
  curl_easy_setopt(curl, CURLOPT_SSL_VERIFYHOST, 2L);
  curl_easy_setopt(curl, CURLOPT_SSLVERSION, static_cast<long>(CURL_SSLVERSION_TLSv1_2));
  curl_easy_setopt(curl, CURLOPT_HTTPHEADER, headers.get());
  curl_easy_setopt(curl, CURLOPT_POST, 1L);
  curl_easy_setopt(curl, CURLOPT_POSTFIELDS, bundle.data());
  curl_easy_setopt(curl, CURLOPT_POSTFIELDSIZE_LARGE, static_cast<curl_off_t>(bundle.size()));
  curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, &take);
  curl_easy_setopt(curl, CURLOPT_WRITEDATA, &body);
  curl_easy_setopt(curl, CURLOPT_ERRORBUFFER, error);
}

Poster::Poster(std::string base) : state_(std::make_unique<State>()) {
  state_->base = std::move(base);
  state_->addHeader("Content-Type: application/fhir+json");
  state_->addHeader("Accept: application/fhir+json");
  state_->addHeader("Prefer: return=minimal");
  state_->addHeader("Expect:");
}

Poster::~Poster() = default;

Result<Receipt> Poster::post(std::string_view bundle) {
  std::string body;
  state_->prepare(bundle, body);
  const CURLcode code = curl_easy_perform(state_->handle.get());
  if (code != CURLE_OK) {
    const std::string why = state_->error[0] != '\0' ? state_->error : curl_easy_strerror(code);
    return Issue{Severity::Fatal,
                 IssueType::Transient,
                 "deliver",
                 "",
                 "The record server cannot be reached: " + why + ".",
                 "Check the address and the network, then send again: it does no harm twice."};
  }
  long status = 0;
  curl_easy_getinfo(state_->handle.get(), CURLINFO_RESPONSE_CODE, &status);
  return readAnswer(status, body);
}

}  // namespace footbridge::deliver
