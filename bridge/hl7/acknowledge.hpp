#pragma once
// What to answer to a message, once it is known what became of it (HL7 v2.5.1 section 2.9).

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "core/time.hpp"
#include "hl7/reader.hpp"

namespace footbridge::hl7 {

/// What became of a message.
enum class Stored : std::uint8_t {
  Now,       ///< it is in safe storage, set-aside parts included
  Before,    ///< the same message had been stored: nothing was done
  Conflict,  ///< another message of this sender bore the same control id
  Unable     ///< it could not be stored now; the sender may try again
};

/// The answer of whoever stores.
struct Verdict {
  Stored stored = Stored::Unable;
  Issues issues;  ///< of the assessments that were refused, with places in the message
};

/// Stores everything of a message, durably, before it returns.
using Commit = std::function<Verdict(const Reading&)>;

/// Acknowledgements to be sent, in order, each in a frame of its own; none if the sender wants
/// none.
struct Reply {
  std::string code;  ///< "AA", "CE" and so on: the last one, whether it is sent or not
  std::vector<std::string> messages;
};

/// What to answer to a message that was read, once its verdict is known. One that is not supported
/// is refused whatever the verdict.
Reply acknowledge(std::string_view message, const Reading& reading, Verdict verdict,
                  const Settings& settings, const Tables& tables, const Instant& now);

/// What to answer to a message that was not read at all, such as one that is too long; as much as
/// is there of its header is made use of.
Reply reject(std::string_view beginning, const Issue& because, const Settings& settings,
             const Tables& tables, const Instant& now);

/// Reads a message, has it stored, and says what to answer. Original mode unless MSH-15 or MSH-16
/// is valued; then an accept acknowledgement, an application acknowledgement, or both. A message
/// that is not for us (event, version, test, no header) is refused without being stored.
Reply answer(std::string_view message, const Settings& settings, const Tables& tables,
             const Instant& now, const Commit& commit);

}  // namespace footbridge::hl7
