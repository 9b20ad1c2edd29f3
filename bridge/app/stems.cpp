#include "app/stems.hpp"

#include "app/report.hpp"
#include "core/file.hpp"

namespace footbridge::app {

std::string bundleStem(const Identifier& assessment, std::int32_t revision) {
  const std::string name = assessment.value + ".r" + std::to_string(revision);
  return fileStem(name, assessment.system + "|" + name);
}

Issues keepSetAside(const std::filesystem::path& folder, const intake::Text& text,
                    const Outcome& outcome) {
  std::error_code ignored;  // if it failed, so does the write, which says why
  std::filesystem::create_directories(folder, ignored);
  const std::string stem =
      fileStem(std::filesystem::path(outcome.name).filename().string(), text.bytes);
  Issues issues = writeFileAtomically(folder / (stem + ".json"), text.bytes);
  append(issues, writeFileAtomically(folder / (stem + ".issues.json"),
                                     operationOutcome(outcome.issues) + "\n"));
  return issues;
}

}  // namespace footbridge::app
