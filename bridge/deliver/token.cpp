#include "deliver/token.hpp"

#include <algorithm>
#include <array>
#include <charconv>

#include "core/file.hpp"
#include "core/key_ring.hpp"
#include "core/text.hpp"
#include "deliver/address.hpp"
#include "deliver/scopes.hpp"
#include "json/value.hpp"
#include "json/writer.hpp"

namespace footbridge::deliver {
namespace {

using std::chrono::seconds;
using Clock = std::chrono::system_clock;

/// From now; with what it is dated back the five minutes that SMART allows at most.
constexpr seconds kAssertionLife{240};
constexpr seconds kBackDated{60};   ///< servers refuse what is dated ahead of their own clock
constexpr seconds kUsualLife{300};  ///< where the server does not say (SMART recommends this)
constexpr seconds kLongestLife{86'400};
constexpr std::size_t kDescribed = 200;   ///< of what the endpoint says in words of its own
constexpr std::size_t kLongestWord = 40;  ///< in that

Issue fault(IssueType type, std::string text, std::string mend) {
  return {Severity::Error, type, "token", "", std::move(text), std::move(mend)};
}

long long unixTime(Clock::time_point when) {
  return std::chrono::duration_cast<seconds>(when.time_since_epoch()).count();
}

/// application/x-www-form-urlencoded.
void appendField(std::string& form, std::string_view name, std::string_view value) {
  constexpr std::string_view kHex = "0123456789ABCDEF";
  if (!form.empty()) form += '&';
  (form += name) += '=';
  for (const char c : value) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                       c == '-' || c == '.' || c == '_' || c == '~';
    const auto byte = static_cast<unsigned char>(c);
    if (plain) {
      form += c;
    } else {
      ((form += '%') += kHex[byte >> 4U]) += kHex[byte & 15U];
    }
  }
}

/// A field's value alone, for RFC 6749 section 2.3.1.
std::string formText(std::string_view value) {
  std::string out;
  appendField(out, "", value);
  return out.substr(1);
}

/// "https://host:port" of an address.
std::string_view originOf(std::string_view address) {
  const std::size_t scheme = address.find("://");
  if (scheme == std::string_view::npos) return {};
  return address.substr(0, address.find('/', scheme + 3));
}

/// The words of RFC 6749 section 5.2 that a person can do something about.
std::string_view adviceOn(std::string_view error) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 6> kAdvice{
      {{"invalid_client",
        "Check client, that the public key (`footbridge keys publish`) or the secret is the one "
        "registered there, and the clock of this machine."},
       {"invalid_scope", "Check scopes: ask for what is registered there."},
       {"unauthorized_client", "Have the client registered there for client credentials."},
       {"invalid_grant", "Check what is registered there, and the clock of this machine."},
       {"unsupported_grant_type", "This server gives no tokens for client credentials."},
       {"invalid_request", "Check token_url and the algorithm."}}};
  for (const auto& [name, advice] : kAdvice) {
    if (name == error) return advice;
  }
  return {};
}

/// What the server says in words of its own (RFC 6749 section 5.2), to be put behind a sentence.
/// Long words are left out: they might be what was sent to it.
std::string described(const json::Value& body) {
  std::string out;
  for (const std::string_view word : words(body.text("error_description"))) {
    out += out.empty() ? "" : " ";
    out += word.size() > kLongestWord ? "..." : word;
  }
  if (out.empty()) return out;
  out = " It says: " + printable(shortened(out, kDescribed));
  return out.ends_with('.') ? out : out + ".";
}

/// What the endpoint refused, with the word of the standard and its description.
Issue refusal(const Answer& answer) {
  const Result<json::Value> body = json::read(answer.body);
  const std::string_view error = body ? body->text("error") : std::string_view{};
  const std::string_view advice = adviceOn(error);
  const std::string status = " (status " + std::to_string(answer.status) + ").";
  const std::string description = body ? described(*body) : std::string{};
  if (!advice.empty()) {
    return fault(IssueType::BusinessRule,
                 "The token endpoint refuses: " + std::string(error) + status + description,
                 std::string(advice));
  }
  const bool passing = answer.status >= 500 || answer.status == 429 || answer.status == 408;
  return fault(passing ? IssueType::Transient : IssueType::BusinessRule,
               "The token endpoint gives no token" + status + description,
               passing ? "It is tried again." : "Check token_url and what is registered there.");
}

bool visible(std::string_view token) {
  return !token.empty() &&
         std::all_of(token.begin(), token.end(), [](char c) { return c > ' ' && c < '\x7F'; });
}

bool isBearer(std::string_view type) {
  static constexpr std::string_view kBearer = "bearer";
  return std::equal(type.begin(), type.end(), kBearer.begin(), kBearer.end(),
                    [](char a, char b) { return (a >= 'A' && a <= 'Z' ? a + 32 : a) == b; });
}

seconds lifeIn(const json::Value& body) {
  const json::Value* value = body.member("expires_in");
  const std::string text = value == nullptr               ? ""
                           : value->asNumber() != nullptr ? value->asNumber()->text
                           : value->asString() != nullptr ? *value->asString()
                                                          : "";
  std::int64_t out = 0;
  const auto read = std::from_chars(text.data(), text.data() + text.size(), out);
  if (read.ec != std::errc() || out <= 0) return kUsualLife;
  return std::min(seconds(out), kLongestLife);
}

}  // namespace

std::string assertion(const SigningKey& key, Algorithm algorithm, const Claim& claim) {
  json::Writer head;
  head.beginObject().member("alg", name(algorithm)).member("typ", "JWT");
  head.member("kid", claim.keyId).endObject();
  json::Writer body;
  body.beginObject().member("iss", claim.client).member("sub", claim.client);
  body.member("aud", claim.audience).member("jti", claim.id);
  body.name("iat").number(unixTime(claim.now - kBackDated));
  body.name("exp").number(unixTime(claim.now + kAssertionLife)).endObject();
  const std::string signedPart = base64url(head.text()) + "." + base64url(body.text());
  return signedPart + "." + base64url(key.sign(algorithm, signedPart));
}

Result<Grant> readGrant(const Answer& answer) {
  if (answer.wire == Wire::Untrusted) {
    return fault(IssueType::BusinessRule, "The certificate of the token endpoint is not accepted.",
                 "Check ca_file and token_url.");
  }
  if (answer.wire != Wire::Answered) {
    return fault(IssueType::Transient,
                 "The token endpoint cannot be reached: " + answer.fault + ".",
                 "It is tried again.");
  }
  if (answer.status != 200) return refusal(answer);
  const Result<json::Value> body = json::read(answer.body);
  const std::string_view token = body ? body->text("access_token") : std::string_view{};
  const std::string_view type = body ? body->text("token_type") : std::string_view{};
  if (!visible(token) || !isBearer(type)) {
    return fault(IssueType::BusinessRule, "What the token endpoint answers holds no bearer token.",
                 "Check that token_url is the token endpoint.");
  }
  return Grant{std::string(token), printable(body->text("scope")), lifeIn(*body)};
}

Result<std::string> tokenEndpoint(const config::Server& server) {
  if (!server.auth.tokenUrl.empty()) return server.auth.tokenUrl;
  Request request;
  request.path = "/.well-known/smart-configuration";
  request.mediaType = "application/json";
  const Answer answer = exchange(server, std::move(request));
  const std::string mend = "Set token_url below auth.";
  if (answer.wire != Wire::Answered || answer.status >= 500) {
    return fault(IssueType::Transient,
                 "The server does not say where tokens are had (/.well-known/smart-configuration).",
                 "It is tried again. Or: " + mend);
  }
  const Result<json::Value> body = json::read(answer.status == 200 ? answer.body : "");
  const std::string url(body ? body->text("token_endpoint") : std::string_view{});
  if (!allowedAddress(url)) {
    return fault(IssueType::BusinessRule,
                 "The server names no usable token endpoint (/.well-known/smart-configuration).",
                 mend);
  }
  if (!server.auth.secretFile.empty() && originOf(url) != originOf(server.base)) {
    return fault(IssueType::BusinessRule,
                 "The server names a token endpoint on another host, where the client secret is "
                 "not sent unasked: " +
                     printable(url) + ".",
                 "If it is right: " + mend);
  }
  return url;
}

Tokens::Tokens(const config::Server& server) : server_(server) {}

std::string Tokens::ungranted() const {
  return deliver::ungranted(server_.auth.scopes, grant_.scopes);
}

Result<Request> Tokens::request(Clock::time_point now) const {
  const config::Auth& auth = server_.auth;
  Request out;
  out.method = "POST";
  out.mediaType = "application/json";
  out.contentType = "application/x-www-form-urlencoded";
  appendField(out.body, "grant_type", "client_credentials");
  appendField(out.body, "scope", auth.scopes);
  if (auth.secretFile.empty()) {
    const Result<RingKey> key = signingKey(auth.keys);
    if (!key) return key.issues();
    const Algorithm algorithm = auth.algorithm.value_or(
        key->key.kind() == KeyKind::P384 ? Algorithm::Es384 : Algorithm::Rs384);
    if (!fits(algorithm, key->key.kind())) {
      return fault(
          IssueType::BusinessRule,
          "The signing key is not of the kind that " + std::string(name(algorithm)) + " needs.",
          "Set algorithm below auth, or make another key.");
    }
    appendField(out.body, "client_assertion_type",
                "urn:ietf:params:oauth:client-assertion-type:jwt-bearer");
    const std::string& audience = auth.audience.empty() ? endpoint_ : auth.audience;
    appendField(out.body, "client_assertion",
                assertion(key->key, algorithm, {auth.client, audience, key->id, now, randomId()}));
    return out;
  }
  const Result<std::string> secret = readBearer(auth.secretFile);
  if (!secret) return secret.issues();
  if (auth.secretIn == config::SecretIn::Header) {
    out.basic = base64(formText(auth.client) + ":" + formText(*secret));
  } else {
    appendField(out.body, "client_id", auth.client);
    appendField(out.body, "client_secret", *secret);
  }
  return out;
}

Result<Grant> Tokens::ask(Clock::time_point now) {
  if (endpoint_.empty()) {
    Result<std::string> found = tokenEndpoint(server_);
    if (!found) return found.issues();
    endpoint_ = *std::move(found);
  }
  Result<Request> made = request(now);
  if (!made) return made.issues();
  config::Server at = server_;
  at.base = endpoint_;
  return readGrant(exchange(at, *std::move(made)));
}

// Renewed when a tenth of its life, and at most a minute, is left.
Result<std::string> Tokens::current(Clock::time_point now) {
  if (!grant_.token.empty() && now < renewAt_) return grant_.token;
  Result<Grant> grant = ask(now);
  if (!grant) {
    // A discovered endpoint may have moved.
    if (server_.auth.tokenUrl.empty()) endpoint_.clear();
    return grant.issues();
  }
  grant_ = *std::move(grant);
  renewAt_ = now + grant_.life - std::min<seconds>(grant_.life / 10, seconds(60));
  return grant_.token;
}

}  // namespace footbridge::deliver
