// presets.json: settings of destinations for kinds of record servers.

#include "tables/fields.hpp"

namespace footbridge::tables {
namespace {

std::vector<std::string> textsOf(Fields& row, std::string_view member) {
  std::vector<std::string> out;
  for (const json::Value& each : row.list(member)) {
    if (each.asString() != nullptr) out.push_back(*each.asString());
  }
  return out;
}

PresetRow readPreset(Fields row) {
  PresetRow out;
  out.id = row.text("id");
  out.about = row.text("about");
  out.needs = textsOf(row, "needs");
  out.lacks = textsOf(row, "lacks");
  row.source();
  const json::Value* settings = row.member("settings");
  if (settings == nullptr || settings->asObject() == nullptr || settings->asObject()->empty()) {
    row.fault("settings", "has to set something");
  } else {
    out.settings = *settings;
  }
  return out;
}

}  // namespace

void loadPresets(const Files& files, Tables& tables, Issues& issues) {
  const json::Value file = parseFile(files, "presets.json", issues);
  for (const json::Value& row : Fields(file, "presets.json", issues).list("rows")) {
    tables.presets.push_back(
        readPreset({row, "presets.json " + std::string(row.text("id")), issues}));
  }
}

}  // namespace footbridge::tables
