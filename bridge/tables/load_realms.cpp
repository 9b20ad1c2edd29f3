// realms.json: what a realm asks beyond base R4, and the codes that no reading may bear.

#include <algorithm>

#include "tables/fields.hpp"

namespace footbridge::tables {
namespace {

std::vector<std::string> texts(Fields& row, std::string_view member) {
  std::vector<std::string> out;
  for (const json::Value& element : row.list(member)) {
    const std::string* text = element.asString();
    if (text == nullptr) {
      row.fault(member, "holds something that is no text");
    } else {
      out.push_back(*text);
    }
  }
  return out;
}

RealmProfile readProfile(Fields row) {
  return {row.text("of"), row.text("url"), row.flag("checked"), row.text("source")};
}

std::vector<RealmElements> readElements(Fields& row, std::string_view member) {
  std::vector<RealmElements> out;
  for (const json::Value& element : row.list(member)) {
    Fields each = row.inner(element, member);
    out.push_back({each.text("of"), texts(each, "elements"), each.source()});
  }
  return out;
}

Realm readRealm(Fields row) {
  Realm out;
  out.id = row.text("id");
  out.name = row.text("name");
  out.codingOrder = texts(row, "codingOrder");
  for (const json::Value& element : row.list("units")) {
    Fields unit = row.inner(element, "unit");
    out.units.emplace(unit.text("code"), unit.text("text"));
  }
  out.patientSystems = texts(row, "patientSystems");
  out.armPanel = row.flag("armPressurePanel") ? ArmPanel::Yes : ArmPanel::No;
  for (const json::Value& element : row.list("profiles")) {
    out.profiles.push_back(readProfile(row.inner(element, "profile")));
  }
  out.mustSupport = readElements(row, "mustSupport");
  out.forbidden = readElements(row, "forbidden");
  out.source = row.source();
  return out;
}

}  // namespace

void loadRealms(const Files& files, Tables& tables, Issues& issues) {
  const json::Value file = parseFile(files, "realms.json", issues);
  Fields whole(file, "realms.json", issues);
  for (const json::Value& row : whole.list("rows")) {
    tables.realms.push_back(readRealm({row, "realms.json " + std::string(row.text("id")), issues}));
  }
  for (const json::Value& row : whole.list("reserved")) {
    Fields reserved = whole.inner(row, "reserved");
    const std::string system = reserved.text("system");
    for (std::string& code : texts(reserved, "codes")) {
      tables.reserved.emplace_back(system, std::move(code));
    }
  }
}

}  // namespace footbridge::tables

namespace footbridge {

bool allows(const Realm& realm, std::string_view element) {
  return std::none_of(realm.forbidden.begin(), realm.forbidden.end(), [&](const auto& row) {
    const auto& all = row.elements;
    return row.of == "result" && std::find(all.begin(), all.end(), element) != all.end();
  });
}

}  // namespace footbridge
