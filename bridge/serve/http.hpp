#pragma once
// HTTP/1.1 as little as an intake needs and as strict as a hospital network asks for: one way to
// say where a request ends, everything in doubt refused before its body is read.

#include <chrono>
#include <functional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/issue.hpp"
#include "serve/wire.hpp"

namespace footbridge::serve {

using Field = std::pair<std::string, std::string>;

/// Everything of a request but its body.
struct Head {
  std::string id;  ///< X-Request-Id: the client's if it is a UUID, else ours
  std::string method;
  std::string path;           ///< as sent, without the query
  std::vector<Field> query;   ///< decoded
  std::vector<Field> fields;  ///< names in lower case
  std::uint64_t length = 0;   ///< of the body
  Peer peer;
  std::string who;  ///< filled by Site::admit: the name of the token, for the trail
  Steady::time_point since{};

  /// The value of a field or of a part of the query; "" if it is not there.
  std::string_view field(std::string_view name) const;
  std::string_view asked(std::string_view name) const;
};

struct Request {
  Head head;
  std::string body;
};

struct Response {
  int status = 200;
  std::string body;
  std::string type = "application/fhir+json";
  std::vector<Field> fields;           ///< further ones
  std::chrono::milliseconds delay{0};  ///< not sent before; for whoever guesses at tokens
  bool close = false;                  ///< nothing more is taken on this connection
  std::string about = {};              ///< not sent: for the trail
};

struct HttpLimits {
  std::uint32_t header = 16U << 10U;
  std::uint64_t body = 16U << 20U;
  std::chrono::milliseconds headerTime{10'000};  ///< from the first byte to the last of the header
  std::chrono::milliseconds bodyTime{60'000};    ///< the same for the body
  std::chrono::milliseconds idleTime{60'000};    ///< between requests
};

/// What is behind the protocol.
struct Site {
  HttpLimits limits;

  /// Says no before the body is read, or nothing and fills `who`.
  std::function<std::optional<Response>(Head&)> admit;

  /// Answers, at once or later, from any thread, exactly once.
  std::function<void(Request, std::function<void(Response)>)> handle;

  /// Is told of every answer, refusals too, before it is sent.
  std::function<void(const Head&, const Response&)> note;

  /// True once no further request shall be taken on open connections.
  std::function<bool()> closing;
};

/// An answer that says what is wrong, as an OperationOutcome.
Response refusal(int status, IssueType type, std::string text, std::string mend);

/// What greets connections of the wire. Site and wire have to outlive it.
Greet httpGreeting(const Site& site, Wire& wire);

}  // namespace footbridge::serve
