#include "deliver/post.hpp"

#include <curl/curl.h>

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

Issue issue(IssueType type, std::string text, std::string_view mend) {
  return {Severity::Error, type, "deliver", "", std::move(text), std::string(mend)};
}

constexpr std::string_view kMendServer =
    "Mend what the record server names, or its configuration, and send again: it does no harm "
    "twice.";

/// Code and places of one issue of an OperationOutcome: never its text, which may name the patient.
std::string codeAndPlaces(const json::Value& said) {
  std::string out = " " + std::string(said.text("code"));
  for (const std::string_view name : {"expression", "location"}) {
    const json::Value* places = said.member(name);
    if (places == nullptr || places->asArray() == nullptr) continue;
    for (const json::Value& place : *places->asArray()) {
      if (const std::string* text = place.asString()) (out += " at ") += shortened(*text, 200);
    }
  }
  return out;
}

std::string whatWasSaid(const json::Value* outcome) {
  std::string out;
  const json::Value* issues = outcome == nullptr ? nullptr : outcome->member("issue");
  if (issues == nullptr || issues->asArray() == nullptr) return out;
  for (const json::Value& said : *issues->asArray()) {
    if (said.text("severity") != "information") out += codeAndPlaces(said) + ";";
  }
  if (!out.empty()) out.back() = '.';
  return out;
}

Issue refused(long status, const json::Value* body) {
  const std::string said =
      "The record server answered " + std::to_string(status) + "." + whatWasSaid(body);
  const bool later = status == 408 || status == 429 || status >= 500;
  if (!later) return issue(IssueType::BusinessRule, said, kMendServer);
  return issue(IssueType::Transient, said, "Send the same bundle again later: no harm twice.");
}

const json::Array* entriesOf(const json::Value* bundle) {
  const json::Value* entries = bundle == nullptr ? nullptr : bundle->member("entry");
  return entries == nullptr ? nullptr : entries->asArray();
}

/// How many answers a bundle has to get, or why it is none that can be sent.
Result<std::size_t> countEntries(std::string_view bundle) {
  const Result<json::Value> read = json::read(bundle);
  if (!read) {
    return issue(IssueType::Structure, "This is no JSON: " + read.issues().front().text,
                 "Send what `footbridge convert` writes: one bundle a line.");
  }
  const json::Array* entries = entriesOf(&*read);
  if (read->text("resourceType") != "Bundle" || read->text("type") != "transaction" ||
      entries == nullptr || entries->empty()) {
    return issue(IssueType::Structure, "This is no FHIR Bundle of type transaction with entries.",
                 "Send what `footbridge convert` writes: one bundle a line.");
  }
  return entries->size();
}

/// The server may answer 200 and yet have left entries out or refused some of them.
Result<Receipt> readEntries(const json::Array& entries, std::size_t wanted) {
  if (entries.size() != wanted) {
    return issue(IssueType::BusinessRule,
                 "The record server answered " + std::to_string(entries.size()) + " of " +
                     std::to_string(wanted) + " entries.",
                 "Check at the server what it holds of this assessment, then send again.");
  }
  Receipt out;
  for (std::size_t i = 0; i < entries.size(); ++i) {
    const json::Value* response = entries[i].member("response");
    const std::string_view status = response == nullptr ? "" : response->text("status");
    out.created += status.starts_with("201") ? 1 : 0;
    out.present += status.starts_with("200") ? 1 : 0;
    if (out.created + out.present == i + 1) continue;
    return issue(IssueType::BusinessRule,
                 "The record server answered entry " + std::to_string(i) + " with '" +
                     std::string(shortened(status, 40)) + "'." +
                     whatWasSaid(response == nullptr ? nullptr : response->member("outcome")),
                 kMendServer);
  }
  return out;
}

Result<Receipt> readAnswer(long status, const std::string& body, std::size_t wanted) {
  const Result<json::Value> answer = json::read(body);
  if (status != 200) return refused(status, answer ? &*answer : nullptr);
  const json::Array* entries = answer ? entriesOf(&*answer) : nullptr;
  if (entries != nullptr) return readEntries(*entries, wanted);
  return issue(IssueType::BusinessRule,
               "The record server answered 200 without a bundle: this may not be its FHIR base.",
               "Check the address.");
}

}  // namespace

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
  const Result<std::size_t> wanted = countEntries(bundle);
  if (!wanted) return wanted.issues();
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
  return readAnswer(status, body, *wanted);
}

}  // namespace footbridge::deliver
