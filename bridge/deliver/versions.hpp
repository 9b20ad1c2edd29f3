#pragma once
// A correction replaces exactly the version that was delivered before it, or nothing.

#include <string>
#include <string_view>

namespace footbridge::deliver {

/// The bundle of a correction with each update of a resource that `earlier` delivered bound to the
/// place and version that its receipt names: PUT Observation/12 under If-Match instead of a
/// conditional update. Where the receipt names neither, the condition stays. `earlier` is the
/// bundle as it was sent.
std::string withVersions(std::string_view bundle, std::string_view earlier,
                         std::string_view receipt);

/// True if some entry of the bundle is bound to a version.
bool bound(std::string_view bundle);

}  // namespace footbridge::deliver
