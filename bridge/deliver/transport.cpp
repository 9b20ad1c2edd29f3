#include "deliver/transport.hpp"

#include <curl/curl.h>

#include <algorithm>
#include <array>

#include "core/file.hpp"
#include "core/gzip.hpp"
#include "core/signing.hpp"
#include "core/text.hpp"

namespace footbridge::deliver {
namespace {

using std::chrono::milliseconds;
using std::chrono::seconds;

constexpr std::size_t kAnswerLimit = 16U << 20U;
constexpr long kUploadBuffer = 512L << 10;  ///< a bundle in one or two writes
constexpr std::size_t kZipFrom = 1'024;     ///< bytes; smaller bodies gain nothing: our choice
constexpr long kIdleSeconds = 60;           ///< servers close idle connections at about that age
constexpr long kLifeSeconds = 600;          ///< certificates are checked anew at least so often

constexpr long kBadRequest = 400;
constexpr long kUnsupported = 415;
constexpr std::string_view kFhir = "application/fhir+json";

using Easy = std::unique_ptr<CURL, decltype(&curl_easy_cleanup)>;
using Multi = std::unique_ptr<CURLM, decltype(&curl_multi_cleanup)>;
using Headers = std::unique_ptr<curl_slist, decltype(&curl_slist_free_all)>;

/// One exchange under way.
struct Flight {
  Easy handle{curl_easy_init(), &curl_easy_cleanup};
  Headers headers{nullptr, &curl_slist_free_all};
  Request request;
  std::string zipped;  ///< the request's body as sent, if it is sent compressed
  bool plain = false;  ///< sent once more, uncompressed, since it was refused compressed
  std::string body;
  bool tooLarge = false;
  std::array<char, CURL_ERROR_SIZE> error{};

  void add(const std::string& line) {
    headers.reset(curl_slist_append(headers.release(), line.c_str()));
  }
};

std::size_t take(char* bytes, std::size_t size, std::size_t count, void* to) {
  auto& flight = *static_cast<Flight*>(to);
  flight.tooLarge = flight.body.size() + size * count > kAnswerLimit;
  if (flight.tooLarge) return 0;
  flight.body.append(bytes, size * count);
  return size * count;
}

/// A handshake that broke off is not among these: that can pass.
bool untrusted(CURLcode code) {
  constexpr std::array kCodes{CURLE_PEER_FAILED_VERIFICATION, CURLE_SSL_CERTPROBLEM,
                              CURLE_SSL_CACERT_BADFILE, CURLE_SSL_ISSUER_ERROR,
                              CURLE_SSL_INVALIDCERTSTATUS};
  return std::find(kCodes.begin(), kCodes.end(), code) != kCodes.end();
}

Wire wireOf(CURLcode code, const Flight& flight) {
  if (code == CURLE_OK) return Wire::Answered;
  if (flight.tooLarge) return Wire::TooLarge;
  if (untrusted(code)) return Wire::Untrusted;
  if (code == CURLE_COULDNT_RESOLVE_HOST || code == CURLE_COULDNT_CONNECT) return Wire::NotSent;
  curl_off_t connected = 0;
  curl_easy_getinfo(flight.handle.get(), CURLINFO_PRETRANSFER_TIME_T, &connected);
  return connected == 0 ? Wire::NotSent : Wire::Unknown;
}

std::string headerOf(CURL* handle, const char* name) {
  curl_header* header = nullptr;
  if (curl_easy_header(handle, name, 0, CURLH_HEADER, -1, &header) != CURLHE_OK) return {};
  return header->value;
}

/// True if the server names gzip among what bodies of requests may be encoded in (RFC 7694).
bool offersGzip(CURL* handle) {
  std::string left = headerOf(handle, "Accept-Encoding");
  while (!left.empty()) {
    const std::size_t comma = std::min(left.find(','), left.size());
    const std::string_view each = trimmed(std::string_view(left).substr(0, comma));
    const bool some = each.find_first_of("123456789", std::min(each.find("q="), each.size())) !=
                      std::string_view::npos;
    if (each == "gzip" || (each.starts_with("gzip;") && some)) return true;
    left.erase(0, comma + 1);
  }
  return false;
}

Answer answerOf(CURLcode code, Flight& flight) {
  Answer out;
  out.tag = flight.request.tag;
  out.wire = wireOf(code, flight);
  if (code != CURLE_OK) {
    out.fault = flight.error[0] != '\0' ? flight.error.data() : curl_easy_strerror(code);
    return out;
  }
  CURL* const handle = flight.handle.get();
  curl_easy_getinfo(handle, CURLINFO_RESPONSE_CODE, &out.status);
  out.location = headerOf(handle, "Location");
  out.etag = headerOf(handle, "ETag");
  curl_off_t after = 0;
  const bool given = curl_easy_getinfo(handle, CURLINFO_RETRY_AFTER, &after) == CURLE_OK;
  if (given && !headerOf(handle, "Retry-After").empty()) {
    out.retryAfter = seconds(std::clamp<curl_off_t>(after, 1, 3'600));
  }
  out.body = std::move(flight.body);
  return out;
}

}  // namespace

struct Transport::State {
  config::Server server;
  int stopDescriptor;
  Multi multi{curl_multi_init(), &curl_multi_cleanup};
  std::vector<std::unique_ptr<Flight>> idle{};
  std::vector<std::unique_ptr<Flight>> flying{};
  bool offered = false;  ///< the server said that it takes gzip
  bool refused = false;  ///< it was seen not to

  std::unique_ptr<Flight> pick();
  void launch(std::unique_ptr<Flight> flight);
  void prepare(Flight& flight) const;
  void prepareBody(Flight& flight) const;
  bool zips(const Flight& flight) const;
  bool again(const Answer& answer, Flight& flight);
  void secure(CURL* handle) const;
  void collect(std::vector<Answer>& out);
};

void Transport::State::launch(std::unique_ptr<Flight> flight) {
  flight->body.clear();
  flight->tooLarge = false;
  flight->error[0] = '\0';
  prepare(*flight);
  curl_multi_add_handle(multi.get(), flight->handle.get());
  flying.push_back(std::move(flight));
}

std::unique_ptr<Flight> Transport::State::pick() {
  if (idle.empty()) return std::make_unique<Flight>();
  std::unique_ptr<Flight> out = std::move(idle.back());
  idle.pop_back();
  return out;
}

void Transport::State::secure(CURL* handle) const {
  curl_easy_setopt(handle, CURLOPT_PROTOCOLS_STR,
                   server.base.starts_with("https") ? "https" : "http");
  curl_easy_setopt(handle, CURLOPT_PROXY, "");
  curl_easy_setopt(handle, CURLOPT_FOLLOWLOCATION, 0L);
  curl_easy_setopt(handle, CURLOPT_SSL_VERIFYPEER, 1L);
  curl_easy_setopt(handle, CURLOPT_SSL_VERIFYHOST, 2L);
  curl_easy_setopt(handle, CURLOPT_SSLVERSION, static_cast<long>(CURL_SSLVERSION_TLSv1_2));
  curl_easy_setopt(handle, CURLOPT_MAXAGE_CONN, kIdleSeconds);
  curl_easy_setopt(handle, CURLOPT_MAXLIFETIME_CONN, kLifeSeconds);
  if (!server.caFile.empty()) curl_easy_setopt(handle, CURLOPT_CAINFO, server.caFile.c_str());
  if (server.certificateFile.empty()) return;
  curl_easy_setopt(handle, CURLOPT_SSLCERT, server.certificateFile.c_str());
  curl_easy_setopt(handle, CURLOPT_SSLKEY, server.certificateKeyFile.c_str());
}

bool Transport::State::zips(const Flight& flight) const {
  using config::Gzip;
  const bool wanted = server.gzip == Gzip::Always || (server.gzip == Gzip::WhenOffered && offered);
  return wanted && !refused && !flight.plain && flight.request.body.size() >= kZipFrom &&
         flight.request.contentType == kFhir;
}

void Transport::State::prepareBody(Flight& flight) const {
  CURL* const handle = flight.handle.get();
  const Request& request = flight.request;
  flight.zipped = zips(flight) ? gzipped(request.body) : std::string();
  const std::string& sent = flight.zipped.empty() ? request.body : flight.zipped;
  flight.add("Content-Type: " + request.contentType);
  if (!flight.zipped.empty()) flight.add("Content-Encoding: gzip");
  if (request.contentType == kFhir) flight.add("Prefer: return=minimal");
  flight.add("Expect:");
  if (!request.ifNoneExist.empty()) flight.add("If-None-Exist: " + request.ifNoneExist);
  if (!request.ifMatch.empty()) flight.add("If-Match: " + request.ifMatch);
  curl_easy_setopt(handle, CURLOPT_POST, 1L);
  curl_easy_setopt(handle, CURLOPT_POSTFIELDS, sent.data());
  curl_easy_setopt(handle, CURLOPT_POSTFIELDSIZE_LARGE, static_cast<curl_off_t>(sent.size()));
  if (request.method != "POST") {
    curl_easy_setopt(handle, CURLOPT_CUSTOMREQUEST, request.method.c_str());
  }
  curl_easy_setopt(handle, CURLOPT_UPLOAD_BUFFERSIZE, kUploadBuffer);
}

/// A compressed body that was refused may have been refused for that: it goes out once more as it
/// is, and if it is taken then, no other is compressed. 415 leaves no doubt.
bool Transport::State::again(const Answer& answer, Flight& flight) {
  if (answer.wire != Wire::Answered) return false;
  offered = offered || offersGzip(flight.handle.get());
  if (flight.plain) {
    refused = refused || answer.status < 300;
    return false;
  }
  if (flight.zipped.empty()) return false;
  refused = refused || answer.status == kUnsupported;
  flight.plain = answer.status == kUnsupported || answer.status == kBadRequest;
  return flight.plain;
}

// libcurl's own defaults follow proxies from the environment, speak every protocol it knows and
// wait for ever; all of that is set here, anew for each request.
void Transport::State::prepare(Flight& flight) const {
  CURL* const handle = flight.handle.get();
  const Request& request = flight.request;
  curl_easy_reset(handle);
  secure(handle);
  flight.headers.reset();
  flight.add("Accept: " + request.mediaType);
  flight.add("User-Agent: footbridge");
  flight.add(
      "Cache-Control: no-cache");  // some servers answer a search with what they found before
  if (!request.id.empty()) flight.add("X-Request-Id: " + request.id);
  if (!request.bearer.empty()) flight.add("Authorization: Bearer " + request.bearer);
  if (!request.basic.empty()) flight.add("Authorization: Basic " + request.basic);
  if (request.method != "GET") prepareBody(flight);
  curl_easy_setopt(handle, CURLOPT_URL, (server.base + request.path).c_str());
  curl_easy_setopt(handle, CURLOPT_NOSIGNAL, 1L);
  curl_easy_setopt(handle, CURLOPT_FRESH_CONNECT, request.repeat == Repeat::Never ? 1L : 0L);
  curl_easy_setopt(handle, CURLOPT_CONNECTTIMEOUT_MS,
                   static_cast<long>(server.connectTime.count()));
  curl_easy_setopt(handle, CURLOPT_TIMEOUT_MS, static_cast<long>(server.totalTime.count()));
  curl_easy_setopt(handle, CURLOPT_HTTPHEADER, flight.headers.get());
  curl_easy_setopt(handle, CURLOPT_WRITEFUNCTION, &take);
  curl_easy_setopt(handle, CURLOPT_WRITEDATA, &flight);
  curl_easy_setopt(handle, CURLOPT_ERRORBUFFER, flight.error.data());
}

Transport::Transport(const config::Server& server, int stopDescriptor)
    : state_(std::make_unique<State>(State{server, stopDescriptor})) {
  curl_multi_setopt(state_->multi.get(), CURLMOPT_MAX_HOST_CONNECTIONS,
                    static_cast<long>(server.connections));
}

Transport::~Transport() {
  for (const auto& flight : state_->flying) {
    curl_multi_remove_handle(state_->multi.get(), flight->handle.get());
  }
}

void Transport::start(Request request) {
  std::unique_ptr<Flight> flight = state_->pick();
  flight->request = std::move(request);
  flight->plain = false;
  state_->launch(std::move(flight));
}

void Transport::State::collect(std::vector<Answer>& out) {
  int left = 0;
  while (const CURLMsg* message = curl_multi_info_read(multi.get(), &left)) {
    if (message->msg != CURLMSG_DONE) continue;
    CURL* const handle = message->easy_handle;
    const CURLcode code = message->data.result;  // the message dies with the removal
    const auto found = std::find_if(flying.begin(), flying.end(), [handle](const auto& flight) {
      return flight->handle.get() == handle;
    });
    Answer answer = answerOf(code, **found);
    curl_multi_remove_handle(multi.get(), handle);
    std::unique_ptr<Flight> flight = std::move(*found);
    flying.erase(found);
    if (again(answer, *flight)) {
      launch(std::move(flight));
      continue;
    }
    out.push_back(std::move(answer));
    idle.push_back(std::move(flight));
  }
}

std::vector<Answer> Transport::wait(milliseconds atMost) {
  std::vector<Answer> out;
  int running = 0;
  curl_multi_perform(state_->multi.get(), &running);
  state_->collect(out);
  if (!out.empty()) return out;
  curl_waitfd stop{state_->stopDescriptor, CURL_WAIT_POLLIN, 0};
  curl_multi_poll(state_->multi.get(), &stop, state_->stopDescriptor >= 0 ? 1U : 0U,
                  static_cast<int>(atMost.count()), nullptr);
  curl_multi_perform(state_->multi.get(), &running);
  state_->collect(out);
  return out;
}

void Transport::ignoreStop() { state_->stopDescriptor = -1; }

void Transport::wake() { curl_multi_wakeup(state_->multi.get()); }

std::size_t Transport::busy() const { return state_->flying.size(); }

Answer Transport::exchange(Request request) {
  start(std::move(request));
  std::vector<Answer> answers;
  while (answers.empty()) answers = wait(seconds(1));
  return std::move(answers.front());
}

config::Server serverAt(std::string base) {
  config::Server out;
  out.base = std::move(base);
  while (out.base.ends_with('/')) out.base.pop_back();
  return out;
}

Answer exchange(const config::Server& server, Request request) {
  return Transport(server, -1).exchange(std::move(request));
}

Answer ofQuestion(Answer answer) {
  if (answer.wire == Wire::Unknown) answer.wire = Wire::NotSent;
  return answer;
}

Result<std::string> readBearer(const std::filesystem::path& file) {
  Issues privacy = privacyOf(file);
  if (!privacy.empty()) return privacy;
  const Result<std::string> text = readFile(file);
  if (!text) return text.issues();
  const std::string token(trimmed(*text));
  const bool visible = !token.empty() && std::all_of(token.begin(), token.end(),
                                                     [](char c) { return c > ' ' && c < '\x7F'; });
  if (visible) return token;
  return Issue{Severity::Error,
               IssueType::Value,
               "config",
               "",
               "The file " + file.string() + " does not hold one token.",
               "Put the token alone on one line."};
}

}  // namespace footbridge::deliver
