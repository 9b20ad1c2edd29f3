#pragma once
// Scopes of access tokens (SMART App Launch 2, scopes-and-launch-context).

#include <string>
#include <string_view>
#include <vector>

namespace footbridge::deliver {

/// What stands between blanks.
std::vector<std::string_view> words(std::string_view text);

/// The scopes of `asked` that `granted` does not cover, a blank between them; "" if all are, or if
/// the server did not say. "system/*.cruds" and "system/Observation.read" cover what they mean.
std::string ungranted(std::string_view asked, std::string_view granted);

/// A warning for people.
std::string ungrantedSentence(std::string_view scopes);

}  // namespace footbridge::deliver
