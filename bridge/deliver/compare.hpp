#pragma once
// What a record server stored beside what it was sent. Pure.

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "json/value.hpp"

namespace footbridge::deliver {

/// One place where the two differ.
struct Difference {
  std::string path;    ///< "valueQuantity.value"
  std::string sent;    ///< as JSON; "" if nothing was sent there
  std::string stored;  ///< as JSON; "" if nothing is stored there
};

/// True if the reference that is stored is what the one that was sent had to become.
using SameReference = std::function<bool(std::string_view sent, std::string_view stored)>;

/// The members of such a resource on which somebody may act: they are compared. Others (narrative,
/// meta, notes, links of instruments) a server may tidy.
std::vector<std::string_view> comparedMembers(std::string_view resourceType);

/// The differences in the compared members. What a server adds is none, unless it changes what is
/// said: another value, a comparator, an absence reason, a modifier extension. Codings are compared
/// by system and code, decimals by value (0.9 is 0.90), times by the moment.
std::vector<Difference> compare(const json::Value& sent, const json::Value& stored,
                                const SameReference& same);

}  // namespace footbridge::deliver
