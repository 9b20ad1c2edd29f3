#pragma once
// The shape of bundles as people name it: realm, profiles, FHIR release.

#include "config/config.hpp"
#include "core/issue.hpp"
#include "package/options.hpp"
#include "tables/tables.hpp"

namespace footbridge::app {

/// Puts what is named into `options`: first what the command line says, then what the destination
/// is configured for; "" stands for nothing said. Issues for a realm that does not exist and for
/// profiles of another FHIR release.
Issues chooseShape(const config::Shape& said, const config::Shape& configured, const Tables& tables,
                   package::BundleOptions& options);

/// The release of FHIR in which bundles are written: said, else configured.
const std::string& releaseOf(const config::Shape& said, const config::Shape& configured);

}  // namespace footbridge::app
