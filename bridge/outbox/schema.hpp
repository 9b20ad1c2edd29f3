#pragma once
// The tables of the store and how an older one is brought up to date.

#include "outbox/sql.hpp"

namespace footbridge::outbox {

/// Applies every migration that the file has not seen, each in a transaction of its own. A file of
/// a newer program is refused.
Issues migrate(Database& database);

}  // namespace footbridge::outbox
