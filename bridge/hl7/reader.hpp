#pragma once
// Messages as texts in the input format, one an assessment.

#include <functional>
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

/// Hands over every assessment in a file of messages, each by the name of the file and the number
/// of its message. Of a file without any, the reason.
void forEachText(std::string_view bytes, const std::string& name, const Settings& settings,
                 const Tables& tables, const std::function<void(intake::Text)>& take);

}  // namespace footbridge::hl7
