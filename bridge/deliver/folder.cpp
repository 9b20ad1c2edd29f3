#include "deliver/folder.hpp"

#include <map>

#include "core/file.hpp"
#include "json/value.hpp"

namespace footbridge::deliver {
namespace {

using std::filesystem::path;

Issues makeFolder(const path& folder) {
  std::error_code failed;
  std::filesystem::create_directories(folder, failed);
  if (!failed) return {};
  return {{Severity::Fatal, IssueType::NoStore, "deliver", "",
           "The folder " + folder.string() + " cannot be made: " + failed.message() + ".",
           "Check the path and this user's rights."}};
}

/// Lines of the resources by type, as the bytes of the bundle have them.
Result<std::map<std::string, std::string>> linesByType(std::string_view bundle) {
  Result<json::Value> value = json::read(bundle);
  if (!value) return std::move(value).issues();
  std::map<std::string, std::string> out;
  for (const json::Value& entry : value->list("entry")) {
    const json::Value* resource = entry.member("resource");
    if (resource == nullptr) continue;
    std::string& lines = out[std::string(resource->text("resourceType"))];
    lines += bundle.substr(resource->span.begin, resource->span.end - resource->span.begin);
    lines += '\n';
  }
  return out;
}

Issues writeLines(const path& folder, const std::string& stem, std::string_view bundle) {
  const Result<std::map<std::string, std::string>> types = linesByType(bundle);
  if (!types) return types.issues();
  if (Issues issues = makeFolder(folder); !issues.empty()) return issues;
  for (const auto& [type, lines] : *types) {
    std::string name = type;
    ((name += '.') += stem) += ".ndjson";
    if (Issues issues = writeFileAtomically(folder / name, lines); !issues.empty()) return issues;
  }
  return {};
}

}  // namespace

Result<Filed> fileBundle(const config::Folder& folder, const std::string& stem,
                         std::string_view bundle) {
  if (Issues issues = makeFolder(folder.path); !issues.empty()) return issues;
  const path file = folder.path / (stem + ".json");
  std::error_code ignored;
  const bool there = std::filesystem::exists(file, ignored);
  if (there) {
    const Result<std::string> bytes = readFile(file);
    if (!bytes) return bytes.issues();
    if (*bytes != bundle) {
      return Issue{Severity::Error,
                   IssueType::Duplicate,
                   "deliver",
                   "",
                   file.string() + " is there already with other content.",
                   "Compare the two: `footbridge outbox show` prints this one. Then move the file "
                   "away and release the row, or drop the row."};
    }
  }
  // The lines first: the bundle's own file says that all is done.
  if (folder.ndjson) {
    Issues issues = writeLines(folder.path / "ndjson", stem, bundle);
    if (!issues.empty()) return issues;
  }
  if (there) return Filed::Present;
  if (Issues issues = writeFileAtomically(file, bundle); !issues.empty()) return issues;
  return Filed::Written;
}

Issues probeFolder(const config::Folder& folder) {
  if (Issues issues = makeFolder(folder.path); !issues.empty()) return issues;
  const path trial = folder.path / ".footbridge-trial";
  Issues issues = writeFileAtomically(trial, "");
  std::error_code ignored;
  std::filesystem::remove(trial, ignored);
  return issues;
}

}  // namespace footbridge::deliver
