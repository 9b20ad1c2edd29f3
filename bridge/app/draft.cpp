#include "csv/draft.hpp"

#include <cerrno>
#include <fstream>
#include <istream>
#include <ostream>

#include "app/commands.hpp"
#include "app/report.hpp"

namespace footbridge::app {

int draftMap(const std::string& table, World& world) {
  std::ifstream file;
  const bool standard = table == "-";
  if (!standard) file.open(table, std::ios::binary);
  if (!standard && (!file.is_open() || std::filesystem::is_directory(table))) {
    world.err << table << " cannot be read.\n";
    return kUsage;
  }
  const std::string name = standard ? "" : std::filesystem::path(table).stem().string();
  const Result<std::string> draft = csv::draftMap(standard ? world.in : file, name, world.tables);
  if (!draft) {
    for (const Issue& issue : draft.issues()) printIssue(world.err, issue);
    return kSetAside;
  }
  world.out << *draft;
  return kWell;
}

}  // namespace footbridge::app
