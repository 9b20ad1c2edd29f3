#pragma once
// Rows of the outbox into a folder.

#include <optional>
#include <string>

#include "config/config.hpp"
#include "outbox/outbox.hpp"

namespace footbridge::app {

/// Writes the bundle of one row as a file and gives what to note about it. Nothing if the folder
/// cannot be written to: then the row stays ready, and `because` says why.
std::optional<outbox::Mark> fileRow(outbox::Outbox& outbox, const config::Folder& folder,
                                    const outbox::Row& row, std::string& because);

}  // namespace footbridge::app
