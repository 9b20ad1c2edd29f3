#include "assess/validate.hpp"

#include "assess/validate_visit.hpp"

namespace footbridge {
namespace validation {
namespace {

constexpr std::array kChecks{checkIdentity,   checkDates,   checkLimits,      checkEntries,
                             checkPressures,  checkSignals, checkMethod,      checkAmputations,
                             checkStatements, checkStated,  checkCompleteness};

}  // namespace
}  // namespace validation

Issues validate(const Assessment& assessment, const Instant& now, const Tables& tables) {
  validation::Visit visit{assessment, now, tables};
  for (const auto check : validation::kChecks) check(visit);
  return visit.take();
}

}  // namespace footbridge
