#include "csv/places.hpp"

#include <algorithm>

namespace footbridge::csv {
namespace {

struct Row {
  Role role;
  std::string_view path;
  std::string_view pointer;
};

/// The places that are no readings. Several columns may be given to patient.identifiers and note.
constexpr std::array<Row, 25> kHead{{
    {Role::Ignore, "ignore", ""},
    {Role::Identifier, "identifier", "/identifier"},
    {Role::Whole, "revision", "/revision"},
    {Role::Word, "status", "/status"},
    {Role::Moment, "measuredAt", "/measuredAt"},
    {Role::MomentDay, "measuredAt.date", "/measuredAt"},
    {Role::MomentTime, "measuredAt.time", "/measuredAt"},
    {Role::Moment, "issuedAt", "/issuedAt"},
    {Role::Identifier, "patient.identifiers", "/patient/identifiers"},
    {Role::Text, "patient.family", "/patient/family"},
    {Role::Given, "patient.given", "/patient/given"},
    {Role::FullName, "patient.name", "/patient/family"},
    {Role::Day, "patient.birthDate", "/patient/birthDate"},
    {Role::Word, "patient.gender", "/patient/gender"},
    {Role::Text, "performer.name", "/performer/name"},
    {Role::Text, "performer.role", "/performer/role"},
    {Role::Identifier, "performer.identifier", "/performer/identifier"},
    {Role::Text, "organization.name", "/organization/name"},
    {Role::Identifier, "organization.identifier", "/organization/identifier"},
    {Role::Identifier, "encounter.identifier", "/encounter/identifier"},
    {Role::Identifier, "order.identifier", "/order/identifier"},
    {Role::Text, "note", "/note"},
    {Role::Text, "conditions.room", "/conditions/room"},
    {Role::ItemName, "reading.item", ""},
    {Role::ItemSide, "reading.side", ""},
}};

constexpr std::array<Row, 3> kRest{{
    {Role::ItemValue, "reading.value", ""},
    {Role::ItemUnit, "reading.unit", ""},
    {Role::ItemNote, "reading.note", ""},
}};

std::string dotted(std::string_view pointer) {
  std::string out(pointer.substr(1));
  std::replace(out.begin(), out.end(), '/', '.');
  return out;
}

}  // namespace

Places::Places(const Tables& tables) {
  const auto add = [this](Target target) {
    names_.push_back(target.path);
    targets_.push_back(std::move(target));
  };
  const auto addHead = [&add](const Row& row) {
    Target target;
    target.role = row.role;
    target.path = row.path;
    target.pointer = row.pointer;
    add(std::move(target));
  };
  std::for_each(kHead.begin(), kHead.end(), addHead);
  std::for_each(kRest.begin(), kRest.end(), addHead);
  const auto addReading = [&add](const std::string& pointer, Item item) {
    Target target;
    target.item = item;
    target.role = Role::Reading;
    target.pointer = pointer;
    target.path = dotted(pointer);
    add(target);
    target.role = Role::ReadingNote;
    target.path += ".note";
    add(std::move(target));
  };
  for (const ItemRow& row : tables.items) {
    addReading(row.path, row.item);
    for (const Side side : kSides) {
      if (row.sided) addReading(tables.place(row.item, side), row.item);
    }
  }
}

std::optional<Target> Places::find(std::string_view path) const {
  const auto found = std::find(names_.begin(), names_.end(), path);
  if (found == names_.end()) return std::nullopt;
  return targets_[static_cast<std::size_t>(found - names_.begin())];
}

std::string_view Places::nearestTo(std::string_view path) const { return nearest(path, names_); }

}  // namespace footbridge::csv
