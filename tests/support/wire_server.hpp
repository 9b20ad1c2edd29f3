#pragma once
// A server on loopback that answers what a script says and keeps what it was asked.

#include <chrono>
#include <memory>
#include <string>
#include <vector>

namespace footbridge::test {

/// What the server does with one request.
struct WireAnswer {
  enum class Kind {
    Whole,       ///< answers
    DropBefore,  ///< closes the connection without reading the body
    DropAfter,   ///< reads everything, then closes without a word
    Half,        ///< announces the whole body, sends half of it and closes
    Slow,        ///< sends one byte, then nothing for longer than any deadline of a test
    Huge         ///< sends without end
  };
  Kind kind = Kind::Whole;
  int status = 200;
  std::vector<std::string> headers;
  std::string body;
  int delayMs = 0;
};

struct WireRequest {
  std::string method;
  std::string path;
  std::string head;  ///< all header lines
  std::string body;
};

/// Answers requests in the order in which they come; when the script is over, with 503.
class WireServer {
 public:
  explicit WireServer(std::vector<WireAnswer> script);
  ~WireServer();
  WireServer(const WireServer&) = delete;
  WireServer& operator=(const WireServer&) = delete;

  int port() const;
  std::vector<WireRequest> requests() const;

  /// The most requests that were under way at one moment.
  int mostAtOnce() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

/// A transaction-response or batch-response with such statuses.
std::string responseBundle(const std::string& type, const std::vector<int>& statuses);

/// The answer to a transaction of one entry that was stored.
WireAnswer storedAnswer(int status = 201);

}  // namespace footbridge::test
