#include "assess/sentences.hpp"

#include <cassert>

namespace footbridge::assess {
namespace {

std::string withSide(std::string name, Side side) {
  if (side != Side::None) name.append(" (").append(word(side)).append(")");
  return name;
}

}  // namespace

std::string sentence(const Tables& tables, std::string_view rule, Arguments arguments) {
  return fill(tables.rule(rule).text, arguments);
}

Remark remark(const Tables& tables, std::string_view rule, Arguments arguments) {
  const Rule& row = tables.rule(rule);
  return {row.id, fill(row.text, arguments)};
}

std::int32_t figure(const Tables& tables, std::string_view rule, std::string_view name) {
  const auto& numbers = tables.rule(rule).numbers;
  const auto found = numbers.find(name);
  assert(found != numbers.end());
  return found->second;
}

std::string naming(const Tables& tables, Item item, Side side) {
  return withSide(tables.row(item).label, side);
}

std::string naming(const Tables& tables, IndexKind kind, Side side) {
  return withSide(tables.row(kind).label, side);
}

void join(std::string& sentences, std::string_view more) {
  if (more.empty()) return;
  if (!sentences.empty()) sentences += ' ';
  sentences += more;
}

std::string listing(const std::vector<std::string>& names) {
  std::string out;
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (i > 0) out += i + 1 == names.size() ? " and " : ", ";
    out += names[i];
  }
  return out;
}

}  // namespace footbridge::assess
