#include "app/maps.hpp"

#include "core/file.hpp"

namespace footbridge::app {
namespace {

Issue wrongKind(const std::string& where, const std::string& map, std::string_view wanted) {
  return {Severity::Error,
          IssueType::Value,
          "config",
          "/serve/" + where + "/map",
          "The source map \"" + map + "\" is not one of " + std::string(wanted) + ".",
          "A map with [hl7] is for messages of HL7 v2, one with [fhir] for resources of FHIR, one "
          "with [columns] for tables."};
}

/// There are several maps, each with lines of its own.
Issues inFile(const std::filesystem::path& file, Issues issues) {
  for (Issue& issue : issues) {
    issue.place = file.string() + (issue.place.empty() ? "" : ", ") + issue.place;
  }
  return issues;
}

}  // namespace

/// What was configured to be read by a map has to find one of its kind.
Issues SourceMaps::checkUses(const Generation& generation) const {
  Issues out;
  if (serve_.mllp && !generation.messages.contains(serve_.mllp->map)) {
    out.push_back(wrongKind("mllp", serve_.mllp->map, "messages"));
  }
  using Format = config::WatchedFolder::Format;
  for (const config::WatchedFolder& folder : serve_.folders) {
    const std::string& map = folder.map;
    const auto check = [&](Format format, bool good, std::string_view wanted) {
      if (folder.format != format || good) return;
      out.push_back(wrongKind("folders/" + folder.name, map, wanted));
    };
    check(Format::Hl7v2, generation.messages.contains(map), "messages");
    check(Format::Csv, generation.tables.contains(map), "tables");
    check(Format::Fhir, generation.resources.contains(map), "resources");
  }
  return out;
}

Issues SourceMaps::renew() {
  Generation fresh;
  Issues issues;
  fresh.messages.emplace("", hl7::settingsOf(nullptr, tables_));
  fresh.resources.try_emplace("", tables_);
  for (const auto& [name, file] : serve_.maps) {
    const Result<std::string> bytes = readFile(file);
    Result<csv::SourceMap> map =
        bytes ? csv::loadSourceMap(*bytes, tables_) : Result<csv::SourceMap>(bytes.issues());
    if (!map) {
      append(issues, inFile(file, std::move(map).issues()));
    } else if (map->messages) {
      fresh.messages.emplace(name, hl7::settingsOf(&*map, tables_));
    } else if (map->resources) {
      fresh.resources.try_emplace(name, tables_, &*map);
    } else {
      fresh.tables.emplace(name, *std::move(map));
    }
  }
  if (issues.empty()) issues = checkUses(fresh);
  if (!issues.empty()) return issues;
  const std::scoped_lock lock(mutex_);
  generations_.push_back(std::move(fresh));
  return {};
}

const csv::SourceMap* SourceMaps::table(std::string_view name) const {
  const std::scoped_lock lock(mutex_);
  const auto found = generations_.back().tables.find(name);
  return found == generations_.back().tables.end() ? nullptr : &found->second;
}

const fhir::Names* SourceMaps::resources(std::string_view name) const {
  const std::scoped_lock lock(mutex_);
  const auto found = generations_.back().resources.find(name);
  return found == generations_.back().resources.end() ? nullptr : &found->second;
}

const hl7::Settings* SourceMaps::messages(std::string_view name) const {
  const std::scoped_lock lock(mutex_);
  const auto found = generations_.back().messages.find(name);
  return found == generations_.back().messages.end() ? nullptr : &found->second;
}

}  // namespace footbridge::app
