#include "app/stems.hpp"

#include "app/set_aside.hpp"

namespace footbridge::app {

std::string bundleStem(const Identifier& assessment, std::int32_t revision) {
  const std::string name = assessment.value + ".r" + std::to_string(revision);
  return fileStem(name, assessment.system + "|" + name);
}

}  // namespace footbridge::app
