#pragma once
// Access tokens by the client credentials grant (RFC 6749 section 4.4), authenticated with a signed
// assertion (SMART App Launch 2, Backend Services; RFC 7523) or a client secret.

#include <chrono>
#include <memory>
#include <string>
#include <string_view>

#include "config/config.hpp"
#include "core/result.hpp"
#include "core/signing.hpp"
#include "deliver/transport.hpp"

namespace footbridge::deliver {

/// Who asks, of whom, and when; `id` is used once.
struct Claim {
  std::string client;
  std::string audience;  ///< the token endpoint, unless the server wants another word
  std::string keyId;
  std::chrono::system_clock::time_point now;
  std::string id;
};

/// The assertion as a compact JSON Web Signature, good for four minutes and dated back by one.
std::string assertion(const SigningKey& key, Algorithm algorithm, const Claim& claim);

/// What a token endpoint gave.
struct Grant {
  std::string token;
  std::string scopes;  ///< as granted; "" if the server did not say
  std::chrono::seconds life{0};
};

/// Reads an answer of a token endpoint. Issues: Transient if trying again later may help,
/// BusinessRule if only a person can help; neither holds anything secret.
Result<Grant> readGrant(const Answer& answer);

/// The token endpoint of a server: as configured, else of /.well-known/smart-configuration below
/// its base. A client secret goes to a discovered endpoint only on the host of the base.
Result<std::string> tokenEndpoint(const config::Server& server);

/// The tokens of one destination: asked for when they are needed, kept until shortly before they
/// end. One thread.
class Tokens {
 public:
  explicit Tokens(const config::Server& server);

  /// True if tokens are asked for, rather than read from a file or not used at all.
  bool used() const { return !server_.auth.client.empty(); }

  /// The token, a new one if the one before ends soon. Never in any message.
  Result<std::string> current(std::chrono::system_clock::time_point now);

  /// The next current() asks for a new one: the server did not take this one.
  void forget() { grant_ = {}; }

  /// What was asked for and not granted: see scopes.hpp.
  std::string ungranted() const;

  /// What was granted last, without the token.
  std::string_view scopes() const { return grant_.scopes; }
  std::chrono::seconds life() const { return grant_.life; }
  const std::string& endpoint() const { return endpoint_; }

 private:
  Result<Grant> ask(std::chrono::system_clock::time_point now);
  Result<Request> request(std::chrono::system_clock::time_point now) const;

  config::Server server_;
  std::string endpoint_;
  Grant grant_;
  std::chrono::system_clock::time_point renewAt_;
};

}  // namespace footbridge::deliver
