#include "hl7/settings.hpp"

#include "csv/known.hpp"
#include "hl7/er7.hpp"

namespace footbridge::hl7 {
namespace {

/// As OBX-3 writes a coding.
std::string spelled(std::string_view system, std::string_view code, const std::string& own) {
  const std::string_view name = system == own                        ? kOwnCodes
                                : system == "http://loinc.org"       ? "LN"
                                : system == "http://snomed.info/sct" ? "SCT"
                                                                     : "";
  return name.empty() ? std::string{} : std::string(code) + "^" + std::string(name);
}

}  // namespace

Settings settingsOf(const csv::SourceMap* map, const Tables& tables) {
  Settings out;
  if (map != nullptr) out.map = *map;
  if (!out.map.messages) out.map.messages.emplace();
  out.map.rows = csv::RowMeaning::Reading;
  const std::string own = csv::ownSystem(tables);
  out.map.readings.merge(
      csv::knownReadings(tables, [&own](std::string_view system, std::string_view code) {
        return spelled(system, code, own);
      }));
  csv::addKnownWords(out.map.words, tables);
  return out;
}

std::optional<std::string> systemOf(std::string_view authority, char mark,
                                    std::string_view fallback, const csv::SourceMap& map) {
  const std::string_view space = part(authority, mark, 1);
  const std::string_view id = part(authority, mark, 2);
  const std::string_view type = part(authority, mark, 3);
  const auto& known = map.messages->authorities;
  for (const std::string_view name : {space, id}) {
    const auto found = known.find(name);
    if (!name.empty() && found != known.end()) return found->second;
  }
  if (!id.empty() && type == "ISO") return "urn:oid:" + std::string(id);
  if (!id.empty() && type == "UUID") return "urn:uuid:" + std::string(id);
  if (!id.empty() && type == "URI") return std::string(id);
  if (!space.empty() || !id.empty() || map.base.empty()) return std::nullopt;
  return map.base + std::string(fallback);
}

}  // namespace footbridge::hl7
