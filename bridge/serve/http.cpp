#include "serve/http.hpp"

#include <algorithm>
#include <array>
#include <boost/beast/http/empty_body.hpp>
#include <boost/beast/http/parser.hpp>
#include <charconv>
#include <optional>
#include <utility>

#include "json/outcome.hpp"
#include "serve/target.hpp"

namespace footbridge::serve {
namespace {

namespace http = boost::beast::http;
namespace net = boost::asio;
using boost::system::error_code;
using Parser = http::request_parser<http::empty_body>;

constexpr std::array<std::pair<int, std::string_view>, 23> kReasons{{
    {200, "OK"},
    {201, "Created"},
    {400, "Bad Request"},
    {401, "Unauthorized"},
    {403, "Forbidden"},
    {404, "Not Found"},
    {405, "Method Not Allowed"},
    {408, "Request Timeout"},
    {409, "Conflict"},
    {411, "Length Required"},
    {413, "Content Too Large"},
    {415, "Unsupported Media Type"},
    {417, "Expectation Failed"},
    {421, "Misdirected Request"},
    {422, "Unprocessable Content"},
    {429, "Too Many Requests"},
    {431, "Request Header Fields Too Large"},
    {500, "Internal Server Error"},
    {501, "Not Implemented"},
    {503, "Service Unavailable"},
    {504, "Gateway Timeout"},
    {505, "HTTP Version Not Supported"},
    {507, "Insufficient Storage"},
}};

std::string_view reasonOf(int status) {
  const auto* found = std::find_if(kReasons.begin(), kReasons.end(),
                                   [status](const auto& row) { return row.first == status; });
  return found == kReasons.end() ? "Other" : found->second;
}

std::string serialised(const Response& response, const Head& head, bool close) {
  std::string out = "HTTP/1.1 " + std::to_string(response.status) + " ";
  (out += reasonOf(response.status)) += "\r\n";
  const auto field = [&out](std::string_view name, std::string_view value) {
    ((out += name) += ": ") += value;
    out += "\r\n";
  };
  field("Content-Type", response.type);
  field("Content-Length", std::to_string(response.body.size()));
  field("Cache-Control", "no-store");
  field("X-Content-Type-Options", "nosniff");
  field("X-Request-Id", head.id);
  for (const auto& [name, value] : response.fields) field(name, value);
  field("Connection", close ? "close" : "keep-alive");
  out += "\r\n";
  // To HEAD the length is told, and nothing follows (RFC 9110 section 9.3.2).
  return head.method == "HEAD" ? out : out += response.body;
}

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + ('a' - 'A')) : c;
  return out;
}

/// Only a UUID is taken over: anything else might say something about a patient.
bool isUuid(std::string_view id) {
  constexpr std::string_view kShape = "00000000-0000-0000-0000-000000000000";
  if (id.size() != kShape.size()) return false;
  for (std::size_t i = 0; i < id.size(); ++i) {
    const bool digit = (id[i] >= '0' && id[i] <= '9') || (id[i] >= 'a' && id[i] <= 'f') ||
                       (id[i] >= 'A' && id[i] <= 'F');
    if (kShape[i] == '-' ? id[i] != '-' : !digit) return false;
  }
  return true;
}

std::size_t occurrences(const Head& head, std::string_view name) {
  return static_cast<std::size_t>(
      std::count_if(head.fields.begin(), head.fields.end(),
                    [name](const Field& field) { return field.first == name; }));
}

/// A line that begins with white space goes on with the one before: long deprecated, and read
/// differently by different programs (RFC 9112 section 5.2).
bool folded(std::string_view header) {
  for (std::size_t at = header.find('\n'); at + 1 < header.size(); at = header.find('\n', at + 1)) {
    if (header[at + 1] == ' ' || header[at + 1] == '\t') return true;
  }
  return false;
}

Response badRequest(std::string text) {
  return refusal(
      400, IssueType::Structure, std::move(text),
      "Send a plain HTTP/1.1 request with one Host and, for a body, its Content-Length.");
}

/// What is wrong with the shape of a header, whatever it asks for. Transfer codings are refused:
/// two programs that count a body in two ways are the way to smuggle one request inside another.
std::optional<Response> misshapen(const Head& head, const HttpLimits& limits, unsigned version) {
  if (version != 11) {
    return refusal(505, IssueType::NotSupported, "Only HTTP/1.1 is spoken here.", "Use HTTP/1.1.");
  }
  if (occurrences(head, "host") != 1 || head.field("host").empty()) {
    return badRequest("The request has to name one Host, and just one.");
  }
  if (occurrences(head, "transfer-encoding") > 0) {
    return refusal(501, IssueType::NotSupported, "Transfer codings are not taken.",
                   "Send the body as it is, with its Content-Length.");
  }
  if (occurrences(head, "content-encoding") > 0) {
    return refusal(415, IssueType::NotSupported, "Compressed bodies are not taken.",
                   "Send the body as it is.");
  }
  for (const char* once : {"authorization", "content-type", "content-length"}) {
    if (occurrences(head, once) > 1)
      return badRequest(std::string(once) + " may stand there once.");
  }
  const bool posts = head.method == "POST";
  if (posts && occurrences(head, "content-length") == 0) {
    return refusal(411, IssueType::Required, "The length of the body is not said.",
                   "Send Content-Length.");
  }
  if (!posts && head.length > 0) return badRequest("This request may not have a body.");
  if (head.length > limits.body) {
    return refusal(413, IssueType::TooLong,
                   "The body is longer than " + std::to_string(limits.body) + " bytes.",
                   "Send it in parts; the limit is max_megabytes in [serve].");
  }
  const std::string_view expected = head.field("expect");
  if (!expected.empty() && lower(expected) != "100-continue") {
    return refusal(417, IssueType::NotSupported, "This expectation cannot be met.",
                   "Leave Expect out.");
  }
  return std::nullopt;
}

class HttpTalk final : public Talk {
 public:
  HttpTalk(const Site& site, Wire& wire, ConnectionId id, Peer peer)
      : site_(site), wire_(wire), id_(id), peer_(std::move(peer)) {}

  Step take(std::string_view bytes) override {
    buffer_ += bytes;
    return goOn();
  }

  Step written() override {
    if (continuing_) {
      continuing_ = false;
      return goOn();
    }
    if (close_ || site_.closing()) return {};
    return goOn();
  }

 private:
  enum class Part : std::uint8_t { Header, Body };

  Step goOn() { return part_ == Part::Header ? header() : body(); }

  Step header() {
    // Line breaks between requests are harmless (RFC 9112 section 2.2).
    if (!parser_) buffer_.erase(0, std::min(buffer_.find_first_not_of("\r\n"), buffer_.size()));
    if (buffer_.empty() && !parser_) {
      return {Step::Kind::Idle, {}, Steady::now() + site_.limits.idleTime};
    }
    if (!parser_) begin();
    const std::size_t end = buffer_.find("\r\n\r\n");
    if (end == std::string::npos && buffer_.size() <= site_.limits.header) {
      return {Step::Kind::Read, {}, headerEnd_};
    }
    if (end == std::string::npos || end > site_.limits.header) {
      return refuse(refusal(431, IssueType::TooLong, "The header is too long.",
                            "At most " + std::to_string(site_.limits.header) + " bytes."));
    }
    error_code error;
    const std::string_view bytes = std::string_view(buffer_).substr(0, end + 4);
    parser_->put(net::buffer(bytes), error);
    if (error || !parser_->is_header_done() || folded(bytes)) {
      return refuse(badRequest("This is not the header of an HTTP request."));
    }
    buffer_.erase(0, end + 4);
    return admit();
  }

  void begin() {
    parser_.emplace();
    parser_->header_limit(site_.limits.header + 4);
    parser_->body_limit(boost::none);  // the length is judged by misshapen()
    parser_->skip(true);               // and the body counted by body()
    head_ = {};
    head_.peer = peer_;
    head_.since = Steady::now();
    headerEnd_ = head_.since + site_.limits.headerTime;
  }

  Step admit() {
    const auto& message = parser_->get();
    head_.method = std::string(message.method_string());
    for (const auto& field : message) {
      head_.fields.emplace_back(lower(field.name_string()), std::string(field.value()));
    }
    const std::string_view given = head_.field("x-request-id");
    if (isUuid(given)) head_.id = given;
    const auto length = parser_->content_length();
    head_.length = length ? *length : 0;
    if (!splitTarget(std::string_view(message.target()), head_.path, head_.query)) {
      return refuse(badRequest("The target has to be a path of this server."));
    }
    std::optional<Response> no = misshapen(head_, site_.limits, message.version());
    close_ = lower(head_.field("connection")).find("close") != std::string::npos;
    if (no) return refuse(*no);
    no = site_.admit(head_);
    if (no && head_.length == 0) return answer(*no);
    if (no) return refuse(*no);
    part_ = Part::Body;
    bodyEnd_ = Steady::now() + site_.limits.bodyTime;
    if (head_.field("expect").empty() || buffer_.size() >= head_.length) return body();
    continuing_ = true;
    return {Step::Kind::Write, "HTTP/1.1 100 Continue\r\n\r\n", {}};
  }

  Step body() {
    if (buffer_.size() < head_.length) return {Step::Kind::Read, {}, bodyEnd_};
    Request request;
    std::string rest = buffer_.substr(head_.length);
    buffer_.resize(head_.length);
    request.body = std::exchange(buffer_, std::move(rest));
    request.head = head_;
    site_.handle(std::move(request), [this, &wire = wire_, id = id_](Response response) {
      wire.resume(id, [this, response = std::move(response)] { return answer(response); });
    });
    return {Step::Kind::Wait, {}, {}};
  }

  /// After it nothing is read any more: what follows may be the body, or anything.
  Step refuse(const Response& response) {
    close_ = true;
    return answer(response);
  }

  Step answer(const Response& response) {
    if (head_.id.empty()) head_.id = std::to_string(id_) + "-" + std::to_string(++requests_);
    site_.note(head_, response);
    close_ = close_ || response.close || site_.closing();
    const Steady::time_point when = Steady::now() + response.delay;
    std::string bytes = serialised(response, head_, close_);
    part_ = Part::Header;
    parser_.reset();
    return {Step::Kind::Write, std::move(bytes), when};
  }

  const Site& site_;
  Wire& wire_;
  ConnectionId id_;
  Peer peer_;
  std::string buffer_;  ///< came in and is not used yet
  Part part_ = Part::Header;
  std::optional<Parser> parser_;
  Head head_;
  Steady::time_point headerEnd_{};
  Steady::time_point bodyEnd_{};
  bool continuing_ = false;
  bool close_ = false;
  std::uint64_t requests_ = 0;
};

std::string_view valueOf(const std::vector<Field>& fields, std::string_view name) {
  const auto found = std::find_if(fields.begin(), fields.end(),
                                  [name](const Field& field) { return field.first == name; });
  return found == fields.end() ? std::string_view{} : std::string_view(found->second);
}

}  // namespace

std::string_view Head::field(std::string_view name) const { return valueOf(fields, name); }
std::string_view Head::asked(std::string_view name) const { return valueOf(query, name); }

Response refusal(int status, IssueType type, std::string text, std::string mend) {
  Response out;
  out.status = status;
  out.body = json::operationOutcome(
      {{Severity::Error, type, "serve", "", std::move(text), std::move(mend)}});
  return out;
}

Greet httpGreeting(const Site& site, Wire& wire) {
  return [&site, &wire](ConnectionId id, const Peer& peer) {
    return std::make_unique<HttpTalk>(site, wire, id, peer);
  };
}

}  // namespace footbridge::serve
