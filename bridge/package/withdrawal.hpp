#pragma once
// An assessment that was wrong as a whole: everything that was sent of it becomes entered-in-error.

#include <cstdint>
#include <string>
#include <string_view>

#include "core/digest.hpp"
#include "core/result.hpp"
#include "core/time.hpp"
#include "model/assessment.hpp"
#include "tables/tables.hpp"

namespace footbridge::package {

struct Withdrawal {
  Identifier assessment;      ///< that is withdrawn
  std::int32_t revision = 2;  ///< the withdrawal's own
  std::string because;
  Party by;
  Instant at;
  std::optional<Identifier> replacement;  ///< the assessment that takes its place
  std::string version;                    ///< of the program
};

/// A bundle that updates every Observation and report of `earlier`, the bundle of the revision
/// before, to entered-in-error with its content kept, and a Provenance that says who withdrew it
/// and why. Structure if `earlier` is not of this program.
Result<std::string> withdrawalBundle(const Withdrawal& withdrawal, std::string_view earlier,
                                     const Tables& tables);

/// True if the bundle is such a one.
bool isWithdrawal(std::string_view bundle);

}  // namespace footbridge::package
