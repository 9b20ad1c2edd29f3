#pragma once
// A later look at what was delivered: does the record still hold it as it was sent?

#include <string>
#include <string_view>

#include "deliver/token.hpp"
#include "deliver/transport.hpp"

namespace footbridge::deliver {

/// A delivery as the outbox keeps it.
struct Delivered {
  enum class How : std::uint8_t { AsSent, Accepted };
  std::string bundle;     ///< as it was sent
  std::string receipt;    ///< places that it does not name are looked for by identifier
  How how = How::AsSent;  ///< Accepted: a person took it as the record had it
};

/// What a look at one delivery found.
struct Looked {
  enum class How : std::uint8_t {
    Same,
    Accepted,     ///< differs, but a person took it so, and no change since then is known
    Differs,      ///< `evidence` holds both versions
    Unread,       ///< the server answered, but not with all of it
    Unreachable,  ///< or gave no token
  };
  How how = How::Unread;
  std::string reason;    ///< whole sentences; "" if all is well
  std::string evidence;  ///< JSON: [{"resource", "sent", "stored"}]; "" if nothing differs
};

/// Reads deliveries of one server again, one after the other. Changes nothing, in the record or
/// here. What passes is tried three times, with the waits of the configuration, else 1 and 5
/// seconds.
class Recheck {
 public:
  explicit Recheck(const config::Server& server);

  Looked look(const Delivered& what);

 private:
  Answer ask(const std::string& batch);
  Answer once(Request request);
  Issues authorise();
  static Looked judge(const Answer& answer, const Delivered& what);

  config::Server server_;
  Transport transport_;
  Tokens tokens_;
  std::string bearer_;
  bool batchless_ = false;  ///< the server was seen to refuse batches, or its strategy does without
};

}  // namespace footbridge::deliver
