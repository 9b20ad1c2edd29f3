#pragma once
// Messages as texts in the input format, one an assessment.

#include <string>
#include <string_view>
#include <vector>

#include "hl7/settings.hpp"
#include "intake/texts.hpp"

namespace footbridge::hl7 {

/// The messages in a file: bare, one after another, in a batch (FHS, BHS), or in MLLP frames.
std::vector<std::string> messagesIn(std::string_view bytes);

/// A message and the assessments in it.
struct Reading {
  std::string sender;     ///< MSH-3 and MSH-4 as they stand
  std::string controlId;  ///< MSH-10
  std::string digest;     ///< SHA-256 of the message
  std::vector<intake::Text> texts;
  bool supported = true;  ///< false: not for us by its header (HL7 v2.5.1, 2.9.2.2: AR)
  Issues refusal = {};    ///< of one that is not supported: why
};

/// Every assessment of a message, or the reason why there is none. What is refused keeps the header
/// and its own segments as they came.
Reading readingOf(std::string_view message, std::string_view name, const Settings& settings,
                  const Tables& tables);

}  // namespace footbridge::hl7
