#include "assess/sentences.hpp"

#include <cassert>

namespace footbridge::assess {
namespace {

std::string withSide(std::string_view name, Side side) {
  if (side == Side::None) return std::string(name);
  const std::string_view of = word(side);
  std::string out;
  out.reserve(name.size() + of.size() + 3);
  out.append(name).append(" (").append(of).append(")");
  return out;
}

}  // namespace

std::string sentence(const Tables& tables, RowId rule, Arguments arguments) {
  return tables.rule(rule).sentence.fill(arguments);
}

Remark remark(const Tables& tables, RowId rule, Arguments arguments) {
  return remark(tables.rule(rule), arguments);
}

Remark remark(const Rule& rule, Arguments arguments) {
  return {rule.id, rule.sentence.fill(arguments), rule.severity};
}

std::int32_t figure(const Tables& tables, RowId rule, std::string_view name) {
  const std::int32_t* const found = tables.rule(rule).number(name);
  assert(found != nullptr);
  return *found;
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
