#include "csv/cells.hpp"

#include <algorithm>

namespace footbridge::csv {

void Cells::add(Role role, std::string_view pointer, std::string text, std::string place,
                std::string_view system) {
  Target target;
  target.role = role;
  target.pointer = pointer;
  target.path = pointer.substr(1);
  std::replace(target.path.begin(), target.path.end(), '/', '.');
  target.system = system;
  target.date = DatePattern::of("yyyy-mm-dd");
  columns.push_back({target.path, std::move(target)});
  texts.push_back(std::move(text));
  places.push_back(std::move(place));
}

std::vector<Column> readingColumns(const std::array<std::string_view, 5>& names) {
  static constexpr std::array<Role, 5> kRoles{Role::ItemName, Role::ItemSide, Role::ItemValue,
                                              Role::ItemUnit, Role::ItemNote};
  std::vector<Column> out;
  for (std::size_t i = 0; i < kRoles.size(); ++i) {
    Target target;
    target.role = kRoles[i];
    out.push_back({std::string(names[i]), std::move(target)});
  }
  return out;
}

Row rowOf(Cells cells, std::size_t width, std::string_view word, std::size_t number) {
  Row out;
  out.word = word;
  out.number = number;
  out.cells = std::move(cells.texts);
  out.places = std::move(cells.places);
  out.cells.resize(width);
  out.places.resize(width);
  return out;
}

Row behind(Row reading, std::size_t width) {
  reading.cells.insert(reading.cells.begin(), width, "");
  reading.places.insert(reading.places.begin(), width, "");
  return reading;
}

}  // namespace footbridge::csv
