#pragma once
// Several HTTP exchanges with one server at a time, each with a deadline and a cap on the answer.

#include <chrono>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "config/config.hpp"
#include "core/result.hpp"

namespace footbridge::deliver {

/// Whether a request may arrive twice. libcurl sends one again by itself if a connection that it
/// had kept open turns out to be closed, though the server may have carried it out; on a fresh
/// connection it does not.
enum class Repeat : std::uint8_t { Harmless, Never };

/// One request. `path` is joined to the server's base: "" or "/metadata" or "/Patient?...".
struct Request {
  std::int64_t tag = 0;  ///< comes back with the answer
  std::string method = "GET";
  std::string path;
  std::string body;                                   ///< sent if the method is not GET
  std::string id;                                     ///< X-Request-Id; letters, digits and hyphens
  std::string mediaType = "application/fhir+json";    ///< wanted of the answer
  std::string contentType = "application/fhir+json";  ///< of the body
  std::string basic;                                  ///< user and password in base64; "" for none
  std::string ifNoneExist;                            ///< header If-None-Exist, "" for none
  std::string ifMatch;                                ///< header If-Match
  Repeat repeat = Repeat::Harmless;
  std::string bearer;  ///< "" for none; never sent anywhere but to the server's base
};

/// How far an exchange came.
enum class Wire : std::uint8_t {
  Answered,   ///< the whole answer is here
  NotSent,    ///< no connection came about: the server cannot have seen the request
  Unknown,    ///< broken off in between: the server may have carried it out
  Untrusted,  ///< the server's certificate, or ours, was not accepted
  TooLarge    ///< the answer went on beyond what can be meant
};

struct Answer {
  std::int64_t tag = 0;
  Wire wire = Wire::Unknown;
  std::string fault;  ///< if not answered: what happened, for people
  long status = 0;
  std::string body;
  std::string location;
  std::string etag;
  std::optional<std::chrono::seconds> retryAfter;  ///< of either form; from 1 second to 1 hour
};

/// Keeps connections open between requests. Certificates are always verified, no redirect is
/// followed, no proxy used, plain http taken for loopback only (allowedBase, address.hpp). One
/// thread, but for wake().
class Transport {
 public:
  /// `stopDescriptor` ends wait() when it becomes readable; -1 for none.
  Transport(const config::Server& server, int stopDescriptor);
  ~Transport();
  Transport(const Transport&) = delete;
  Transport& operator=(const Transport&) = delete;

  void start(Request request);

  /// One request, waited for; nothing else may be under way.
  Answer exchange(Request request);

  /// What came in, waiting for it at most so long.
  std::vector<Answer> wait(std::chrono::milliseconds atMost);

  /// From now on the stop descriptor ends no wait: what is under way shall end well.
  void ignoreStop();

  /// Ends wait() early; may be called by any thread.
  void wake();

  std::size_t busy() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

/// A server of which no more than the address is known; slashes at its end are left out.
config::Server serverAt(std::string base);

/// One request on a connection of its own, waited for.
Answer exchange(const config::Server& server, Request request);

/// The answer to a question that stores nothing: if the exchange broke off, nobody has to wonder
/// what the server did, and it is like one that was never sent.
Answer ofQuestion(Answer answer);

/// The bearer token in a file: one line of visible ASCII. NotFound or Value otherwise; the token is
/// in no message.
Result<std::string> readBearer(const std::filesystem::path& file);

}  // namespace footbridge::deliver
