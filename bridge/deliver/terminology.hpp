#pragma once
// Codes held against any FHIR terminology server: is there such a code, is it in use, is it called
// that.

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "config/config.hpp"
#include "core/result.hpp"

namespace footbridge::deliver {

struct AskedCode {
  std::string system;
  std::string code;
  std::string display;
};

enum class Verdict : std::uint8_t {
  Active,        ///< known under this display
  Inactive,      ///< known, but no longer to be used
  WrongDisplay,  ///< known under another display
  Unknown        ///< the server does not know the code, or not its code system
};

struct CodeAnswer {
  Verdict verdict = Verdict::Unknown;
  std::string display;  ///< what the server calls it; "" if it does not say
  std::string says;     ///< the server's own words on what is wrong; "" if nothing
};

/// Asks CodeSystem/$lookup and CodeSystem/$validate-code for each code, in order. Issues: fatal and
/// Transient if the server cannot be reached, Processing if it answers with anything but a result:
/// then nothing is known of any code. An empty bearer sends none.
Result<std::vector<CodeAnswer>> askTerminology(const config::Server& server,
                                               const std::string& bearer,
                                               const std::vector<AskedCode>& codes);

/// "active", "inactive", "wrong display", "unknown".
std::string_view word(Verdict verdict);

/// What the two answers say together of a code with the display that was asked about: the HTTP
/// status and body of each. Another display is one also where the server agrees with a remark;
/// upper and lower case make no other display.
Result<CodeAnswer> readAnswers(std::string_view asked, long lookupStatus, std::string_view lookup,
                               long validateStatus, std::string_view validate);

}  // namespace footbridge::deliver
