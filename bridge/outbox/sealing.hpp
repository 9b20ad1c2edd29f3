#pragma once
// What an entry becomes before it is stored; not for other folders.

#include "outbox/packing.hpp"
#include "outbox/types.hpp"

namespace footbridge::outbox {

Sealed sealed(const Entry& entry, const Sealer& sealer, Packer& packer);

/// Equal for the revisions of one assessment at one destination.
std::string visitOf(std::string_view destination, std::string_view system, std::string_view value,
                    const Sealer& sealer);

}  // namespace footbridge::outbox
